"""`python -m tilegen`."""

from tilegen.cli import main

main()
