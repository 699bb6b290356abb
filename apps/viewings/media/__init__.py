"""Photos and sounds that go with findings.

A file is checked on arrival and kept until a job has read it. After that only the job's new file is
kept, without place, device or other data of the sender's machine. Recorded taps are measured here;
apps/appraisal computes what the measurement means for the boat.
"""
