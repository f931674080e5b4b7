"""Setting parts out on sheets: rectangles, other outlines, the stock on hand."""
