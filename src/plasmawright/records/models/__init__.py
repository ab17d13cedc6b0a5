"""What is kept.

Holds:   rows, one file for each part of the clinic; rules that must always hold stand here as database constraints.
Imports: errors, Django.
Never:   a query, logic in `save`, a number without its unit.
"""

from plasmawright.records.models.ledger import Aside, ChainHead, Entry
from plasmawright.records.models.people import Clinic, Membership, Person, Role
from plasmawright.records.models.plans import Origin, ParameterSet, Plan, Visit
from plasmawright.records.models.shelf import Adapter, BottomShape, Rotor, TubeKind

__all__ = [
    "Adapter",
    "Aside",
    "BottomShape",
    "ChainHead",
    "Clinic",
    "Entry",
    "Membership",
    "Origin",
    "ParameterSet",
    "Person",
    "Plan",
    "Role",
    "Rotor",
    "TubeKind",
    "Visit",
]
