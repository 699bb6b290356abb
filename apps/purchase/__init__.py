"""What prices from the trade and the deal itself add: quotes and bills; later offers, expenses.

A quote replaces the catalogue's estimate of a remedy on one candidate. A bill says what it came to.
"""
