"""`python -m evenfall`: the same as the `evenfall` command."""

from evenfall.cli import main

main()
