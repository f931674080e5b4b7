"""How a tile is printed: plates to solids, solids to beds and files."""
