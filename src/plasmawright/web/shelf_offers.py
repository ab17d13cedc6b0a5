"""What the clinic's shelf offers to fill the bench's entries with."""

import json
from dataclasses import dataclass

from plasmawright.records.models import Clinic, Rotor, TubeKind
from plasmawright.records.selectors.shelf import bench_sections, rotors, tube_kinds
from plasmawright.web.entry import Group, text_of
from plasmawright.web.visit_fields import FIRST, FIRST_TUBE, SECOND, SECOND_TUBE


@dataclass(frozen=True, kw_only=True)
class Offer:
    """One thing on the shelf; ``values`` is JSON from a rotor's name to entries by field name."""

    name: str
    values: str


@dataclass(frozen=True, kw_only=True)
class Slot:
    """A place on the bench, and what may stand there."""

    label: str
    offers: tuple[Offer, ...]


def shelf_of(clinic: Clinic) -> tuple[Slot, ...]:
    """Return what may be chosen for rotor, first and second tube; nothing where the shelf is empty."""
    carriers, kinds = rotors(clinic), tube_kinds(clinic)
    if not carriers or not kinds:
        return ()
    return (
        Slot(label="Rotor", offers=tuple(_rotor(rotor) for rotor in carriers)),
        Slot(label="First tube", offers=tuple(_tube(kind, carriers, FIRST, FIRST_TUBE) for kind in kinds)),
        Slot(label="Second tube", offers=tuple(_tube(kind, carriers, SECOND, SECOND_TUBE) for kind in kinds)),
    )


def _rotor(rotor: Rotor) -> Offer:
    entries = {
        "rotor.bottom_radius_mm": text_of(rotor.bottom_radius_mm),
        "rotor.angle_deg": text_of(rotor.angle_deg),
        "rotor.max_rcf": text_of(rotor.max_rcf),
        "bench.places": text_of(rotor.places),
    }
    return Offer(name=rotor.name, values=json.dumps({rotor.name: entries}))


def _tube(kind: TubeKind, carriers: list[Rotor], prefix: str, group: Group) -> Offer:
    called = group.fields[0].name
    values = {}
    for rotor in carriers:
        tubes = bench_sections(rotor, [kind])["tubes"]
        section = tubes[kind.name] if isinstance(tubes, dict) else {}
        entries = {
            field.name: text_of(section.get(field.name.removeprefix(f"{prefix}."), "")) for field in group.fields
        }
        values[rotor.name] = {**entries, called: kind.name}
    return Offer(name=kind.name, values=json.dumps(values))
