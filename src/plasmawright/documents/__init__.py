"""What is printed.

Holds:   gather (reads), sheets (plain data), render (bytes).
Imports: errors, records, the thinking rooms' plain results; render imports neither Django nor records.
Never:   a number without its unit, a claim.
"""
