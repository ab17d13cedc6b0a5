"""Files in TOML: preparations, and what else a clinic writes by hand.

Holds:   decoding of bytes into plain keys and values within bounds, and reading a file of them.
Imports: errors, preparation, the standard library.
Never:   Django, records, trust in what was received.
"""
