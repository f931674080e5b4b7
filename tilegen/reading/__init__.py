"""From words on disk to checked values; every message says file, place, what was found and what was expected."""
