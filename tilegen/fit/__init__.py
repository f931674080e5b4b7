"""The numbers before the making: which figures stand where, what closes, and which grid would do."""
