"""Quotes and bills for remedies.

A quote replaces the catalogue's estimate of a remedy on one candidate. A bill records the final
cost. apps/appraisal computes the cost of a boat.

Others use: `facts`, `models`, `selectors`.
"""
