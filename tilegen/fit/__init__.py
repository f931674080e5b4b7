"""The numbers before the making: who stands where, and what closes."""
