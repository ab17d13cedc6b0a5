"""The command line.

Holds:   one module a command; the front door that turns an error into an exit code.
Imports: errors, records, exchange, documents, and the thinking rooms.
Never:   numpy, scipy, an answer that --json does not give.
"""
