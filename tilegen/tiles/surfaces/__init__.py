"""Patterns of surfaces: one file each; `tilegen.surface` has the table of them."""
