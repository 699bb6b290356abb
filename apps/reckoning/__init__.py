"""Pure computation on arrays and dataclasses: what observations add up to and what they are worth.

Belief about levels, agreement between people, costs, order, what a further look is worth, design
ratios. Imports numpy, scipy and the standard library; nothing of Django or of another app, so a
person with a notebook can use it. Every function states shapes, units, errors and its source.

Others use: `advice`, `agreement`, `arrays`, `belief`, `bootstrap`, `condition`, `costs`,
`disclosure`, `expected`, `explaining`, `grader_priors`, `graders`, `levels`, `looking`, `mixture`,
`musts`, `ordering`, `outcomes`, `ownership`, `pooling`, `pricing`, `priors`, `ranking`, `ratios`,
`reasons`, `reporting`, `rollup`, `simulation`, `sound`, `surveying`, `utility`, `visits`, `voting`,
`waterfall`, `work`.
"""
