"""What surrounds every request: its id, its turn, the content policy, a database away."""
