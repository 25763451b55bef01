"""Servo command to surface angle: four-bar, arm offset, travel budget, load and proof."""
