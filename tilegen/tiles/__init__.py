"""What a tile is made of: plates."""
