"""Choose spins and volumes that reach what is wanted, and say why.

Holds:   the visit as data, goals, plans, their alternatives and what binds them.
Imports: errors, practice, preparation, science, parameters, numpy, scipy.
Never:   Django, files, clocks, dice that were not handed in.
"""
