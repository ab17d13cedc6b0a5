"""Wiring.

Holds:   settings, urls, wsgi.
Imports: Django and every room.
Never:   logic.
"""
