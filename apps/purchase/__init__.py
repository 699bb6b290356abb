"""What prices from the trade and the deal itself add: quotes and bills.

A quote replaces the catalogue's estimate of a remedy on one candidate. A bill says what it came to.
What a boat costs altogether is not here: that is worked out in apps/appraisal.

Others use: `facts`, `models`.
"""
