"""Kinds of leaves: one file each; `tilegen.model.grid` has the table of them."""
