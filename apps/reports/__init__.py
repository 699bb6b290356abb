"""Printed reports: the day sheet before a trip, and the decision brief for a meeting."""
