"""The local page: draw a plan, see fit and kit at once, take the files."""
