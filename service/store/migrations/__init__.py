"""Migrations: how a database gets from one schema to the next, in order."""
