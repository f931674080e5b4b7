"""Patterns of surfaces: one file each; `tilegen.model.surface` has the table of them."""
