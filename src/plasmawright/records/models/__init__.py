"""What is kept.

Holds:   rows, one file for each part of the clinic; rules that must always hold stand here as database constraints.
Imports: errors, Django, nouns of the thinking rooms.
Never:   a query, logic in `save`, a number without its unit.
"""

from plasmawright.records.models.checks import Check
from plasmawright.records.models.clinic_settings import ClinicSetting
from plasmawright.records.models.drill import DrillPull
from plasmawright.records.models.intake import Decision, Intake
from plasmawright.records.models.ledger import Aside, ChainHead, Entry
from plasmawright.records.models.lots import Lot, LotUse, MovementKind, StockMovement, Supply, SupplyKind
from plasmawright.records.models.patients import Patient
from plasmawright.records.models.people import Clinic, Membership, Person, Role
from plasmawright.records.models.pins import Pin, PinTry
from plasmawright.records.models.plans import Origin, ParameterSet, Plan, Visit
from plasmawright.records.models.runs import Foresight, Meaning, Run, RunEntry, Signature, Vessel, VesselKind
from plasmawright.records.models.shelf import Adapter, BottomShape, Centrifuge, Rotor, TubeKind
from plasmawright.records.models.tablets import Tablet

__all__ = [
    "Adapter",
    "Aside",
    "BottomShape",
    "Centrifuge",
    "ChainHead",
    "Check",
    "Clinic",
    "ClinicSetting",
    "Decision",
    "DrillPull",
    "Entry",
    "Foresight",
    "Intake",
    "Lot",
    "LotUse",
    "Meaning",
    "Membership",
    "MovementKind",
    "Origin",
    "ParameterSet",
    "Patient",
    "Person",
    "Pin",
    "PinTry",
    "Plan",
    "Role",
    "Rotor",
    "Run",
    "RunEntry",
    "Signature",
    "StockMovement",
    "Supply",
    "SupplyKind",
    "Tablet",
    "TubeKind",
    "Vessel",
    "VesselKind",
    "Visit",
]
