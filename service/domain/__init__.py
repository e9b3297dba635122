"""Formulas of harvest work: plain functions on numbers, unit in every name, no input or output."""
