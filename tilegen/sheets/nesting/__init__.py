"""Setting parts out on sheets: rectangles, odd outlines, the stock there is."""
