"""Two furnaces of different structure, with people at the valve and everything that can happen to a heat.

`scenarios.simulated_heat` gives one heat of a row by name of simulator, row and seed: the readings a board would send
and what truly happened, from when until when. `two_mass` and `layered` share nothing but the interface of `parts`.
Coefficients are own arithmetic and assumptions: the two are there to disagree, so that nothing is tuned to one.
"""
