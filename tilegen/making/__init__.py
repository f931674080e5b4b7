"""The main job as functions: from a plan or a tile to all its files; knows no command line."""
