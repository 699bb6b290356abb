"""Pure computation on arrays and dataclasses: beliefs, costs, orders and the value of looking.

Belief about levels, agreement between people, costs, order, the value of a further look, design
ratios. Imports numpy, scipy and the standard library; nothing of Django or of another app, so it
can be used in a notebook. Every function states shapes, units, errors and its source.
Others use: `advice`, `agreement`, `arrays`, `asking`, `bargaining`, `belief`, `bootstrap`,
`condition`, `costs`, `disclosure`, `expected`, `explaining`, `grader_priors`, `graders`, `judged`,
`levels`, `looking`, `mixture`, `musts`, `offering`, `ordering`, `outcomes`, `ownership`, `pooling`,
`pricing`, `priors`, `ranking`, `ratios`, `reasons`, `reporting`, `rollup`, `settling`,
`simulation`, `sound`, `surveying`, `typical`, `utility`, `visits`, `voting`, `waterfall`, `work`.
"""
