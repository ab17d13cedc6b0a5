"""What was seen and done at the bench so far, as plain frozen data, read from a document or refused field by field."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from math import isnan, nan

from plasmawright.errors import Refusal, Refusals
from plasmawright.preparation.ranges import CENTIMETRES, SECONDS, Range
from plasmawright.preparation.section import Section

TUBES_MAX = 48


class ReadBy(StrEnum):
    """What heights were read with."""

    RULER = "ruler"
    PHOTO = "photo"


class Edge(StrEnum):
    """How the red-cell interface looks."""

    SHARP = "sharp"
    HAZY = "hazy"


class Fate(StrEnum):
    """What becomes of the plasma of a tube in which red was seen."""

    POOLED = "pooled"
    RESPUN = "respun"
    LEFT_OUT = "left_out"


class PoorLook(StrEnum):
    """How the platelet-poor plasma looks."""

    CLEAR = "clear"
    HAZY = "hazy"


@dataclass(frozen=True, kw_only=True)
class Spun:
    """A spin as it really was."""

    rpm: float
    minutes: float


@dataclass(frozen=True, kw_only=True)
class MidSpin:
    """A look into the soft spin: the interface after so many minutes at speed."""

    minutes: float
    interface_mm: float


@dataclass(frozen=True, kw_only=True)
class Seen:
    """What was seen and done, everything optional.

    Parameters
    ----------
    interface_mm
        Height of the red above the inside of the bottom after the soft spin, one for each tube that was read.
    plasma_height_mm
        Clear plasma over the red, one for each tube that was read: surer, since no bottom has to be found.
    reading_error_mm
        Standard uncertainty of one height where the clinic knows its own; else that of ``read_by``.
    plasma_ml, plasma_g
        Withdrawn from each tube that was measured.
    plasma_all_ml, plasma_all_g
        Withdrawn from all tubes together.
    red_seen
        ``None`` where nobody said.
    red_tubes
        Numbers, from 1, of the tubes into whose plasma red was drawn; ``red_fate`` is ``None`` while undecided.
    prp_ml
        The product in hand at the end, before it is sampled or filled into syringes.
    soft_spin, hard_spin
        As they were, where they differ from the plan; minutes at speed, all parts of the spin together.
    tubes_lost
        Tubes of blood that fell out before their plasma was pooled.
    blood_ml
        What the tubes really hold of blood, each.
    """

    interface_mm: tuple[float, ...] = ()
    plasma_height_mm: tuple[float, ...] = ()
    read_by: ReadBy = ReadBy.RULER
    reading_error_mm: float | None = None
    edge: Edge = Edge.SHARP
    mid_spin: MidSpin | None = None
    plasma_ml: tuple[float, ...] = ()
    plasma_all_ml: float | None = None
    plasma_g: tuple[float, ...] = ()
    plasma_all_g: float | None = None
    red_seen: bool | None = None
    red_tubes: tuple[int, ...] = ()
    red_fate: Fate | None = None
    poor_look: PoorLook | None = None
    prp_ml: float | None = None
    soft_spin: Spun | None = None
    hard_spin: Spun | None = None
    tubes_lost: int = 0
    blood_ml: float | None = None

    @classmethod
    def from_document(cls, document: Mapping[str, object]) -> "Seen":
        """Return what ``document`` says; every key may be left out, a list of heights may be one number.

        Raises
        ------
        Refusals
            Everything that cannot be used, each naming its field.
        """
        found: list[Refusal] = []
        section = Section(path="seen", kind="seen", fields=document, found=found)
        section.known(cls.__dataclass_fields__)
        seen = _read(section)
        if found:
            raise Refusals(found)
        return seen


HEIGHT_MM = Range(
    unit="mm",
    low=0.5,
    high=250.0,
    reason="A height in one tube.",
    remedy="Read it again, in millimetres.",
    slips=(CENTIMETRES,),
)
ERROR_MM = Range(
    unit="mm", low=0.05, high=20.0, reason="One standard uncertainty.", remedy="A ruler is read to about 0.5 mm."
)
MINUTES = Range(
    unit="min", low=0.1, high=120.0, reason="Minutes at speed.", remedy="Read the timer again.", slips=(SECONDS,)
)
RPM = Range(unit="rpm", low=50.0, high=30000.0, reason="Revolutions a minute.", remedy="Read the display again.")
EACH_ML = Range(unit="mL", low=0.05, high=100.0, reason="What one tube gives.", remedy="Read the scale again, in mL.")
ALL_ML = Range(unit="mL", low=0.05, high=1000.0, reason="What all tubes give.", remedy="Read the scale again, in mL.")
EACH_G = Range(unit="g", low=0.05, high=100.0, reason="What one tube gives.", remedy="Weigh again, in grams, tared.")
ALL_G = Range(unit="g", low=0.05, high=1000.0, reason="What all tubes give.", remedy="Weigh again, in grams, tared.")
BLOOD_ML = Range(unit="mL", low=0.5, high=100.0, reason="Blood in one tube.", remedy="Read the fill line again, in mL.")
TUBE_NUMBER = Range(
    unit="", low=1, high=TUBES_MAX, reason="Tubes are numbered from 1.", remedy="Read the number on the label."
)


def _read(section: Section) -> Seen:
    lost = _whole(section, "tubes_lost", Range(unit="", low=0, high=TUBES_MAX, reason="Tubes.", remedy="Count again."))
    seen = Seen(
        interface_mm=_several(section, "interface_mm", HEIGHT_MM),
        plasma_height_mm=_several(section, "plasma_height_mm", HEIGHT_MM),
        read_by=section.choice("read_by", ReadBy, ReadBy.RULER) or ReadBy.RULER,
        reading_error_mm=_one(section, "reading_error_mm", ERROR_MM),
        edge=section.choice("edge", Edge, Edge.SHARP) or Edge.SHARP,
        mid_spin=_mid_spin(section),
        plasma_ml=_several(section, "plasma_ml", EACH_ML),
        plasma_all_ml=_one(section, "plasma_all_ml", ALL_ML),
        plasma_g=_several(section, "plasma_g", EACH_G),
        plasma_all_g=_one(section, "plasma_all_g", ALL_G),
        red_seen=section.flag("red_seen") if "red_seen" in section.fields else None,
        red_tubes=tuple(int(number) for number in _several(section, "red_tubes", TUBE_NUMBER) if not isnan(number)),
        red_fate=section.choice("red_fate", Fate) if "red_fate" in section.fields else None,
        poor_look=section.choice("poor_look", PoorLook) if "poor_look" in section.fields else None,
        prp_ml=_one(section, "prp_ml", ALL_ML),
        soft_spin=_spun(section, "soft_spin"),
        hard_spin=_spun(section, "hard_spin"),
        tubes_lost=lost,
        blood_ml=_one(section, "blood_ml", BLOOD_ML),
    )
    if seen.red_seen and not seen.red_tubes:
        section.missing("red_tubes", "Say into which tubes red was drawn.")
    if not seen.red_seen and (seen.red_tubes or seen.red_fate):
        section.refuse(
            "red_seen", "not true", "red tubes and their fate ask for red that was seen", "Say red was seen."
        )
    if len(set(seen.red_tubes)) < len(seen.red_tubes):
        section.refuse("red_tubes", seen.red_tubes, "each tube is named once", "Name each tube once.")
    return seen


def _one(section: Section, key: str, allowed: Range) -> float | None:
    return section.ranged(key, allowed) if key in section.fields else None


def _several(section: Section, key: str, allowed: Range) -> tuple[float, ...]:
    """Read one number or a list of them."""
    value = section.fields.get(key, [])
    if not isinstance(value, list | tuple):
        return (section.ranged(key, allowed),)
    if len(value) > TUBES_MAX:
        section.refuse(key, f"a list of {len(value)}", f"at most {TUBES_MAX}", "One number for each tube.")
        return ()
    inside = Section(
        path=section.name(key), kind="seen", fields={str(i): one for i, one in enumerate(value)}, found=section.found
    )
    return tuple(inside.ranged(str(i), allowed) for i in range(len(value)))


def _whole(section: Section, key: str, allowed: Range) -> int:
    """Read a whole number that may be left out; 0 then, and when it is refused."""
    number = _one(section, key, allowed) or 0.0
    if isnan(number):
        return 0
    if not number.is_integer():
        section.refuse(key, number, "it must be a whole number", "Count again.")
    return int(number)


def _spun(section: Section, key: str) -> Spun | None:
    if key not in section.fields:
        return None
    inside = section.table(key, section.fields[key], "seen")
    if inside is None:
        return None
    inside.known(("rpm", "minutes"))
    return Spun(rpm=_required(inside, "rpm", RPM), minutes=_required(inside, "minutes", MINUTES))


def _mid_spin(section: Section) -> MidSpin | None:
    if "mid_spin" not in section.fields:
        return None
    inside = section.table("mid_spin", section.fields["mid_spin"], "seen")
    if inside is None:
        return None
    inside.known(("minutes", "interface_mm"))
    return MidSpin(
        minutes=_required(inside, "minutes", MINUTES), interface_mm=_required(inside, "interface_mm", HEIGHT_MM)
    )


def _required(section: Section, key: str, allowed: Range) -> float:
    if key not in section.fields:
        section.missing(key, allowed.remedy)
        return nan
    return section.ranged(key, allowed)
