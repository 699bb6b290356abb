"""From the seller's answers to the keys."""
