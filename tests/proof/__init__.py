"""Proof: commands that try to break the tool, and say how much was tried and what failed."""
