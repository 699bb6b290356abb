"""What prices from the trade and the deal itself add: quotes, and later surveys, offers, expenses.

A quote replaces the catalogue's estimate of a remedy on one candidate.
"""
