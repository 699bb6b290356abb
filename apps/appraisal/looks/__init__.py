"""What to look at next: the value of looks, and how readers get it."""
