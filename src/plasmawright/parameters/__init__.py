"""Sourced numbers: every value with its unit, spread, kind and where it was read.

Holds:   tables of rows, their references, the reader that refuses a row without its source, and draws of them.
Imports: errors, science, numpy, the standard library.
Never:   equations, a number without a source row.
"""
