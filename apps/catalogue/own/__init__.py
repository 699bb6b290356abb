"""Changes that a club makes to the catalogue for its waters, and a group on top of them.

Each change is kept for good and begins the owner's next edition. A group's catalogue is the base,
with its club's changes overlaid on it and the group's own over both (layers.py). The underlying
layer's safety is a minimum: no change can reduce it (safety.py).
"""
