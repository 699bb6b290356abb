"""Quotes and bills for remedies, and offers for boats (offers/).

A quote replaces the catalogue's estimate of a remedy on one candidate. A bill records the final
cost. apps/appraisal computes the cost of a boat.

Others use: `facts`, `models`, `offers`, `selectors`, `services`.
"""
