"""What stands on a clinic's shelf."""

from collections.abc import Sequence

from plasmawright.records.models import Adapter, Centrifuge, Clinic, Rotor, TubeKind


def centrifuges(clinic: Clinic) -> list[Centrifuge]:
    """Return the clinic's centrifuges, by name."""
    return list(Centrifuge.objects.of(clinic).order_by("name"))


def rotors(clinic: Clinic) -> list[Rotor]:
    """Return the clinic's rotors, by name, each with its centrifuge."""
    return list(Rotor.objects.of(clinic).select_related("centrifuge").order_by("name"))


def tube_kinds(clinic: Clinic) -> list[TubeKind]:
    """Return the clinic's kinds of tube, by name."""
    return list(TubeKind.objects.of(clinic).order_by("name"))


def adapters(clinic: Clinic) -> list[Adapter]:
    """Return the clinic's adapters, by rotor."""
    return list(Adapter.objects.of(clinic).select_related("rotor", "tube_kind").order_by("rotor__name", "pk"))


def adapter(rotor: Rotor, tube_kind: TubeKind) -> Adapter | None:
    """Return what carries one kind of tube in one rotor, or nothing where none is known."""
    return Adapter.objects.of(rotor.clinic).filter(rotor=rotor, tube_kind=tube_kind).first()


def bench_sections(rotor: Rotor, kinds: Sequence[TubeKind]) -> dict[str, object]:
    """Return ``[rotor]`` and ``[tubes.NAME]`` of a visit file for what stands on the shelf.

    An adapter's radius stands in the tube's section, and its limit where it is lower than the tube's own.
    """
    return {
        "rotor": {
            "bottom_radius_mm": rotor.bottom_radius_mm,
            "angle_deg": rotor.angle_deg,
            "max_rcf": rotor.max_rcf,
        },
        "tubes": {kind.name: _tube_section(rotor, kind) for kind in kinds},
    }


def _tube_section(rotor: Rotor, kind: TubeKind) -> dict[str, object]:
    carried = adapter(rotor, kind)
    limits = [limit for limit in (kind.max_rcf, carried.max_rcf if carried else None) if limit is not None]
    section: dict[str, object | None] = {
        "inner_diameter_mm": kind.inner_diameter_mm,
        "bottom": kind.bottom,
        "cone_height_mm": kind.cone_height_mm,
        "tip_diameter_mm": kind.tip_diameter_mm,
        "capacity_ml": kind.capacity_ml,
        "bottom_radius_mm": carried.bottom_radius_mm if carried else None,
        "max_rcf": min(limits, default=None),
        "empty_mass_g": kind.empty_mass_g,
        "graduated": kind.graduated,
    }
    return {key: value for key, value in section.items() if value is not None}
