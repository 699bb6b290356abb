"""Sentences of notifications: plain, short, and with the present names of people and boats.

Text that people wrote (questions, names) is put on one line, so that it cannot imitate a line of
the mail. Each function has the name of its type; `table` finds them.
"""
