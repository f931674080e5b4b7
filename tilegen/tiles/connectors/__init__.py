"""Kinds of connectors: one file each; `tilegen.model.connectors` has the table of them."""
