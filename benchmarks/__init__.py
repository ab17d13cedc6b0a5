"""Promised speeds, measured: one module a promise, ratios taken in one run.

Run with ``make bench``. A benchmark prints; it does not fail the build.
"""
