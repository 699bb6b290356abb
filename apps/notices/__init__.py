"""What waits for a person: the inbox, and digests by e-mail."""
