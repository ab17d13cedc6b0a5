"""A run at the bench.

Holds:   the steps of a run, what may follow, what blocks, its clocks, its mishaps, and what each step shows.
Imports: errors, parameters, practice, preparation, planning.
Never:   Django, files, the time of day, words meant for a patient.
"""
