"""Evenfall: braking set-ups for small electric aerobatic biplanes, every line at the same steady speed."""

__version__ = "0.1.0"
