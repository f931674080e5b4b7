"""What to make: a drawing compiled into a kit."""
