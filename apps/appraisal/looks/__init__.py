"""What to look at next: what looks are worth, and how that is read."""
