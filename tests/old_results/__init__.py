"""What earlier versions of the service stored, and whether this one can still read it.

method-3.json holds rows that method 3 stored: those of the demo's list with two of its boats, one
boat that could not be priced, a smaller list, and a club's pool and memory. Of long lists of lines
a part was kept. They are never changed: a later method adds a file of its own.
"""
