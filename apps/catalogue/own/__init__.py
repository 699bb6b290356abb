"""What a club says otherwise for its waters, and a group on top of it.

Each change is kept for good and begins the owner's next edition. What holds for a group is the
base, with its club's changes overlaid on it and the group's own over both (layers.py). Safety is a
floor: nothing here can say less of it than the underlying layer (safety.py).
"""
