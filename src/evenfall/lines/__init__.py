"""Everything joined: steady lines, entries, straightness."""
