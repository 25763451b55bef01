"""What the pilot chooses: the plan, and how sticks become commands."""
