"""The inverse: the plan that meets the targets, or why none does."""
