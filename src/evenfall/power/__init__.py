"""Thrust, drag and current of the power train."""
