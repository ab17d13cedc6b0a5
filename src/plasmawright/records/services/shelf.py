"""Centrifuges, rotors, kinds of tube and adapters put on the shelf."""

from collections.abc import Mapping
from datetime import datetime

from django.db import transaction

from plasmawright.errors import Refusal, Refusals
from plasmawright.preparation.ranges import PLACES, RANGES
from plasmawright.preparation.reading import rotor_from, tubes_from
from plasmawright.preparation.section import Section
from plasmawright.records.models import Adapter, Centrifuge, Clinic, Person, Rotor, TubeKind
from plasmawright.records.permissions import Action, refuse_unless_may
from plasmawright.records.services.keeping import added, refuse_name
from plasmawright.records.services.ledger import write_entry

TUBE_MEASURES = (
    "inner_diameter_mm",
    "bottom",
    "capacity_ml",
    "graduated",
    "cone_height_mm",
    "tip_diameter_mm",
    "max_rcf",
    "empty_mass_g",
)


def add_centrifuge(*, clinic: Clinic, name: str, serial_number: str, by: Person, at: datetime) -> Centrifuge:
    """Put a centrifuge on the shelf; its serial number may be empty.

    Raises
    ------
    Refusal
        If ``by`` may not, or the name is empty or taken.
    """
    refuse_unless_may(person=by, clinic=clinic, action=Action.KEEP_SHELF)
    refuse_name(Centrifuge.objects, clinic, name, field="centrifuge.name")
    row = Centrifuge(clinic=clinic, name=name, serial_number=serial_number.strip())
    return added(row, clinic, by=by, at=at)


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
    centrifuge: Centrifuge | None = None,
) -> Rotor:
    """Put a rotor on the shelf; ``centrifuge`` is what it turns in, where that is known.

    Raises
    ------
    Refusals
        If a number lies outside its range.
    Refusal
        If ``by`` may not, the name is empty or taken, or the centrifuge is another clinic's.
    """
    refuse_unless_may(person=by, clinic=clinic, action=Action.KEEP_SHELF)
    found: list[Refusal] = []
    fields = {"bottom_radius_mm": bottom_radius_mm, "angle_deg": angle_deg, "max_rcf": max_rcf}
    rotor_from(_whole({"rotor": fields}, found))
    _refuse(found)
    PLACES.check("rotor.places", places)
    refuse_name(Rotor.objects, clinic, name, field="rotor.name")
    _refuse_other_shelf(clinic, centrifuge)
    row = Rotor(clinic=clinic, name=name, places=places, centrifuge=centrifuge, **fields)
    return added(row, clinic, by=by, at=at)


def place_rotor(*, rotor: Rotor, centrifuge: Centrifuge, by: Person, at: datetime) -> None:
    """Say which centrifuge a rotor turns in.

    Raises
    ------
    Refusal
        If the centrifuge is another clinic's, or the role does not allow it.
    """
    refuse_unless_may(person=by, clinic=rotor.clinic, action=Action.KEEP_SHELF)
    _refuse_other_shelf(rotor.clinic, centrifuge)
    rotor.centrifuge = centrifuge
    with transaction.atomic():
        rotor.save(update_fields=["centrifuge"])
        write_entry(clinic=rotor.clinic, about=rotor, became="placed", by=by.username, at=at)


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
        If ``by`` may not, or the name is empty or taken.
    """
    refuse_unless_may(person=by, clinic=clinic, action=Action.KEEP_SHELF)
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
    _refuse_tube(name, measured)
    refuse_name(TubeKind.objects, clinic, name, field="tubes.name")
    return added(TubeKind(clinic=clinic, name=name, **measured), clinic, by=by, at=at)


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
        If ``by`` may not, a number lies outside its range, the tube is another clinic's, or the adapter is known.
    """
    refuse_unless_may(person=by, clinic=rotor.clinic, action=Action.KEEP_SHELF)
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
    return added(row, rotor.clinic, by=by, at=at)


def set_bore(*, tube_kind: TubeKind, inner_diameter_mm: float, by: Person, at: datetime) -> None:
    """Write a bore into a kind of tube; plans that are saved keep the one they were made with.

    Raises
    ------
    Refusals
        If the bore lies outside its range, or does not go with the tube's other measures.
    Refusal
        If the role does not allow it.
    """
    refuse_unless_may(person=by, clinic=tube_kind.clinic, action=Action.KEEP_SHELF)
    measured = {name: getattr(tube_kind, name) for name in TUBE_MEASURES}
    _refuse_tube(tube_kind.name, {**measured, "inner_diameter_mm": inner_diameter_mm})
    tube_kind.inner_diameter_mm = inner_diameter_mm
    with transaction.atomic():
        tube_kind.save(update_fields=["inner_diameter_mm"])
        write_entry(clinic=tube_kind.clinic, about=tube_kind, became="bore measured", by=by.username, at=at)


def _refuse_tube(name: str, measured: Mapping[str, object | None]) -> None:
    found: list[Refusal] = []
    given = {key: value for key, value in measured.items() if value is not None}
    tubes_from(_whole({"tubes": {name: given}}, found))
    _refuse(found)


def _whole(document: Mapping[str, object], found: list[Refusal]) -> Section:
    return Section(path="", kind="", fields=document, found=found)


def _refuse(found: list[Refusal]) -> None:
    if found:
        raise Refusals(found)


def _refuse_other_shelf(clinic: Clinic, centrifuge: Centrifuge | None) -> None:
    if centrifuge is not None and centrifuge.clinic_id != clinic.pk:
        limit = "it must stand on the rotor's own shelf"
        raise Refusal("rotor.centrifuge", centrifuge, limit, "Choose another centrifuge.")
