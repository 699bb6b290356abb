"""Digests: planned, written, sent."""
