"""Offers for a boat and the seller's counters: who named which price, when, on which conditions.

They say what was written or said; a contract is for the professionals and the law of the place.
"""
