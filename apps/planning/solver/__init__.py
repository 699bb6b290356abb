"""The best day for a trip, on plain numbers: no Django here (held by .importlinter)."""
