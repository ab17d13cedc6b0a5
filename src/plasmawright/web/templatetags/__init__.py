"""What templates ask for by name.

Holds:   tags that a template loads.
Imports: what the web imports.
Never:   a write.
"""
