"""What the trade knows, each rule with its source: blood and draw, counts, dose, letters, cautions.

Holds:   pure functions and the nouns Limit, Caution and Class, in the units of the clinic.
Imports: errors, parameters (the table of practice), science, the standard library.
Never:   Django, files, clocks, a diagnosis, a word on stopping a medicine, a rule without its source.
"""
