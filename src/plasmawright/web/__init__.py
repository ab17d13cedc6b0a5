"""The pages.

Holds:   views, templates, forms, static files.
Imports: errors, records, exchange, documents, and the thinking rooms for answers that are not saved.
Never:   numpy, scipy, logic in a template.
"""
