"""Flat halves: plates laid out on real sheets of foam and card, as drawings to cut by."""
