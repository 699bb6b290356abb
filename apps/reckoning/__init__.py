"""Pure computation on arrays and dataclasses: what observations add up to and what they are worth.

Belief about levels, agreement between people, costs, order, what a further look is worth, design
ratios. Imports numpy, scipy and the standard library; nothing of Django or of another app, so a
person with a notebook can use it. Every function states shapes, units, errors and its source.
"""
