"""Results in sentences."""
