"""What makes a notification: what changed, what waits, what is in dispute."""
