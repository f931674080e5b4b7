"""Patterns of surfaces: one file for each way to fill the plane; `tilegen.model.surface` has the table of them."""
