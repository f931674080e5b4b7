"""Kinds of connectors: one file each; `tilegen.connectors` has the table of them."""
