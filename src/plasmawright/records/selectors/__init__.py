"""All reads.

Holds:   functions named for what they return, each for one clinic or one person.
Imports: errors, records.models.
Never:   a write.
"""
