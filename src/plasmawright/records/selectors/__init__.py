"""All reads.

Holds:   functions named for what they return, each for one clinic or one person.
Imports: errors, the thinking rooms, records.models.
Never:   a write.
"""
