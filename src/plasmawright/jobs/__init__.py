"""Background work: what happens at night, and what nobody waits for.

Holds:   tasks, the daily schedule, the worker that runs them.
Imports: errors, records.
Never:   a page, a question to a person, a second worker on one data folder.
"""
