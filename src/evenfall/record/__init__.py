"""The pilot's logbook: what was flown, with which plane and plan, and what was seen."""
