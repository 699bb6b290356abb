"""The rules for notifications: changes, waiting conditions, disagreements."""
