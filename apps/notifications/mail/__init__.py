"""Plans, writes and sends digests."""
