"""Whether what comes out is what was meant: the model against published cases, and later a clinic against itself.

Holds:   judgements, fits and the numbers behind charts.
Imports: errors, practice, preparation, science, parameters, numpy.
Never:   Django, files, clocks, dice that were not handed in.
"""
