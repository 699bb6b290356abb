"""What several processes and threads share."""
