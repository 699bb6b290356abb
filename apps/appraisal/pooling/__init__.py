"""What groups of a club learn together about checkpoints."""
