"""What to look at on a boat, what repairs cost, and what may hurt the person who looks.

The catalogue is written as TOML (fixtures/catalogue) and loaded into editions. Checkpoints and
remedies are versioned and never change or vanish, so that a finding keeps the words it was made
against. Nothing about a particular boat is stored here.

Others use: `ages`, `applicability`, `content`, `models`, `own`, `questions`, `rows`, `scales`,
`selectors`, `snapshot`, `vocabulary`.
"""
