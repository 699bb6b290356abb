"""Results stored by earlier versions, which the service must still read.

method-3.json has rows that method 3 stored: the demo's list with two of its boats, one boat that
could not be priced, a smaller list, and a club's pool and statistics. Long lists are shortened. The
files never change: a later method adds another file.
"""
