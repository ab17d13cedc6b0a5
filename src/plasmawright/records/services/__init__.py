"""All writes.

Holds:   functions that speak clinic; each takes `by` and `at` and is one transaction.
Imports: errors, the thinking rooms, records.models.
Never:   a clock, a computation inside a transaction.
"""
