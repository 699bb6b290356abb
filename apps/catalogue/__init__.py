"""What to look at on a boat, what putting it right costs, and what may hurt whoever looks.

The catalogue is written as TOML (fixtures/catalogue) and loaded into editions. Checkpoints and
remedies are versioned and never change or vanish, so that a finding keeps the words it was made
against. Here lives nothing of a particular boat or group.

Others use: `ages`, `applicability`, `content`, `models`, `own`, `rows`, `scales`, `selectors`,
`snapshot`, `vocabulary`.
"""
