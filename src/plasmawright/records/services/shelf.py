"""Rotors, kinds of tube and adapters put on the shelf."""

from collections.abc import Mapping
from datetime import datetime

from django.db import transaction

from plasmawright.errors import Refusal, Refusals
from plasmawright.preparation.ranges import PLACES, RANGES
from plasmawright.preparation.reading import rotor_from, tubes_from
from plasmawright.preparation.section import Section
from plasmawright.records.models import Adapter, Clinic, Person, Rotor, TubeKind
from plasmawright.records.scoped import Row, ScopedManager
from plasmawright.records.services.ledger import write_entry


def add_rotor(
    *,
    clinic: Clinic,
    name: str,
    bottom_radius_mm: float,
    max_rcf: float,
    places: int,
    by: Person,
    at: datetime,
    angle_deg: float = 90.0,
) -> Rotor:
    """Put a rotor on the shelf.

    Raises
    ------
    Refusals
        If a number lies outside its range.
    Refusal
        If the name is empty or taken.
    """
    found: list[Refusal] = []
    fields = {"bottom_radius_mm": bottom_radius_mm, "angle_deg": angle_deg, "max_rcf": max_rcf}
    rotor_from(_whole({"rotor": fields}, found))
    _refuse(found)
    PLACES.check("rotor.places", places)
    _refuse_name(Rotor.objects, clinic, name, field="rotor.name")
    row = Rotor(clinic=clinic, name=name, places=places, **fields)
    return _added(row, clinic, by=by, at=at)


def add_tube_kind(
    *,
    clinic: Clinic,
    name: str,
    inner_diameter_mm: float,
    bottom: str,
    capacity_ml: float,
    graduated: bool,
    by: Person,
    at: datetime,
    cone_height_mm: float | None = None,
    tip_diameter_mm: float | None = None,
    max_rcf: float | None = None,
    empty_mass_g: float | None = None,
) -> TubeKind:
    """Put a kind of tube on the shelf; what was not measured is left out.

    Raises
    ------
    Refusals
        If a number lies outside its range, the bottom is unknown, or a cone is described by halves.
    Refusal
        If the name is empty or taken.
    """
    found: list[Refusal] = []
    measured = {
        "inner_diameter_mm": inner_diameter_mm,
        "bottom": bottom,
        "capacity_ml": capacity_ml,
        "graduated": graduated,
        "cone_height_mm": cone_height_mm,
        "tip_diameter_mm": tip_diameter_mm,
        "max_rcf": max_rcf,
        "empty_mass_g": empty_mass_g,
    }
    given = {key: value for key, value in measured.items() if value is not None}
    tubes_from(_whole({"tubes": {name: given}}, found))
    _refuse(found)
    _refuse_name(TubeKind.objects, clinic, name, field="tubes.name")
    return _added(TubeKind(clinic=clinic, name=name, **measured), clinic, by=by, at=at)


def add_adapter(
    *,
    rotor: Rotor,
    tube_kind: TubeKind,
    bottom_radius_mm: float,
    by: Person,
    at: datetime,
    max_rcf: float | None = None,
) -> Adapter:
    """Say where an adapter puts the bottom of one kind of tube in one rotor, and what it bears.

    Raises
    ------
    Refusal
        If a number lies outside its range, the tube is another clinic's, or the adapter is known already.
    """
    RANGES["tubes.bottom_radius_mm"].check("adapter.bottom_radius_mm", bottom_radius_mm)
    if max_rcf is not None:
        RANGES["tubes.max_rcf"].check("adapter.max_rcf", max_rcf)
    if tube_kind.clinic_id != rotor.clinic_id:
        raise Refusal("adapter.tube_kind", tube_kind, "it must stand on the rotor's own shelf", "Choose another tube.")
    if Adapter.objects.of(rotor.clinic).filter(rotor=rotor, tube_kind=tube_kind).exists():
        known = f"{tube_kind} in {rotor}"
        raise Refusal("adapter", known, "it is known already", "Choose another tube or rotor.")
    row = Adapter(
        clinic=rotor.clinic, rotor=rotor, tube_kind=tube_kind, bottom_radius_mm=bottom_radius_mm, max_rcf=max_rcf
    )
    return _added(row, rotor.clinic, by=by, at=at)


def _whole(document: Mapping[str, object], found: list[Refusal]) -> Section:
    return Section(path="", kind="", fields=document, found=found)


def _refuse(found: list[Refusal]) -> None:
    if found:
        raise Refusals(found)


def _refuse_name(manager: ScopedManager[Row], clinic: Clinic, name: str, *, field: str) -> None:
    if not name.strip():
        raise Refusal(field, name, "it must not be empty", "Give the name written on it.")
    if manager.of(clinic).filter(name=name).exists():
        raise Refusal(field, name, "it stands on the shelf already", "Choose another name.")


def _added(row: Row, clinic: Clinic, *, by: Person, at: datetime) -> Row:
    with transaction.atomic():
        row.save(force_insert=True)
        write_entry(clinic=clinic, about=row, became="added", by=by.username, at=at)
    return row
