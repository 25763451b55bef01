"""Evidence in: what was measured on the bench and in flight, read strictly."""
