"""An invented clinic to look at on the first day.

Holds:   its people, its bench, its visits, made through the services a clinic uses.
Imports: errors, records, exchange, planning, preparation.
Never:   a real person, place or product.
"""
