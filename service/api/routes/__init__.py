"""Addresses of the service, one module per noun. A route reads, asks a use case, and writes."""
