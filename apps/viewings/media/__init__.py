"""Photos and sounds that go with findings.

What is sent is checked at the door, kept as it came until a job has read it, and then only as the
job wrote it anew: without place, device or anything else that the sender's machine put into it.
A sound of a tap test is measured; what that says of the boat is reckoned in apps/appraisal.
"""
