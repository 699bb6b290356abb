"""Visits and trips, and the look that is made on a phone."""
