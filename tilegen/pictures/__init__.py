"""Pictures: the plan as it lies on the table, one tile from above, one solid without a display."""
