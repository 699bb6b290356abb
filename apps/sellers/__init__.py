"""What a boat's seller is asked before anybody travels, and what the seller says.

An answer is the seller's word: a source of its own, and never a look. Questions to others, and what
people saw, are in apps/viewings; what the answers come to is worked out by apps/appraisal.

Others use: `facts`, `models`, `questions`, `selectors`.
"""
