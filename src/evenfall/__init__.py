"""Evenfall: braking set-ups for small electric aerobatic biplanes, every line at the same steady speed.

The public functions are in `evenfall.api`.
"""

__version__ = "0.1.0"
