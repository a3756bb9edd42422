"""Stallkeep: one inventory, several places to sell it, and what each market really earned."""
