"""What is kept, and the only way it is written or read.

Holds:   models, services (all writes), selectors (all reads), migrations.
Imports: errors and every thinking room, Django.
Never:   numpy, scipy, a clock of its own, a query that is not scoped to a clinic.
"""
