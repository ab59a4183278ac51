"""Handing cycles to another handheld, and the shift to another person."""
