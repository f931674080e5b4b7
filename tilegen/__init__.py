"""From a drawn dungeon map to modular tiles: solids to print, sheets to cut."""

__version__ = "0.1.0"
