"""Numbers about cells in a spinning tube.

Holds:   pure functions of plain numbers and arrays, SI units throughout.
Imports: errors, numpy, scipy, numba.
Never:   Django, files, clocks, hidden randomness, words meant for a patient.
"""
