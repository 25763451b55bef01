"""What to change next and what to fly next, from what flights have taught."""
