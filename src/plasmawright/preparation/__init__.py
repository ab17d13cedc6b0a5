"""One blood through one protocol: contract units in, contract units out.

Holds:   the preparation as data, the range of every field, and the one prediction anything learns of a tube from.
Imports: errors, parameters, science, numpy.
Never:   Django, files, clocks, dice that were not handed in.
"""
