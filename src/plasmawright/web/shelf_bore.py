"""A bore by water and ruler, one question at a time; what was answered travels in the page until it is kept."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from plasmawright.errors import Refusal, Refusals
from plasmawright.practice.bore import TUBES_MAX, Bore, Levels, caution_tubes_differ, water_density_kg_m3
from plasmawright.practice.statements import Caution
from plasmawright.records.models import Clinic, TubeKind
from plasmawright.records.selectors.shelf import tube_kinds
from plasmawright.records.services.checks import measured_bore
from plasmawright.web.entry import Choice, Entry, Field, sentences_of, shown_entry
from plasmawright.web.shelf_reading import Reading

KIND, TEMPERATURE = "kind", "temperature_c"
LEVELS = ("lower_mm", "lower_g", "upper_mm", "upper_g")
INSTRUCTIONS = {
    KIND: "Choose the kind of tube, and take clean, dry tubes of it.",
    TEMPERATURE: "Let water stand in the room, then measure its temperature.",
    "lower_mm": "Stand an empty tube upright on the scale. Set the scale to zero. Fill with water into the straight "
    "part, and measure the level at eye level, from the inside of the bottom.",
    "lower_g": "Read the scale.",
    "upper_mm": "Fill to near the top of the straight part. Measure the level again, with the ruler where it was.",
    "upper_g": "Read the scale again; it was not set to zero in between.",
}
LABELS = {
    "lower_mm": ("Lower level", "mm"),
    "lower_g": ("Water in it", "g"),
    "upper_mm": ("Upper level", "mm"),
    "upper_g": ("Water in it", "g"),
}


@dataclass(frozen=True, kw_only=True)
class Answered:
    """One question that was answered; ``name`` and ``value`` travel on, ``shown`` is what a person reads."""

    name: str
    label: str
    value: str
    shown: str


@dataclass(frozen=True, kw_only=True)
class Result:
    """What was measured, and what stands on the shelf until it is kept."""

    kind: TubeKind
    bore: Bore
    caution: Caution | None
    may_measure_more: bool


@dataclass(frozen=True, kw_only=True)
class Stage:
    """Where a measurement stands: the next question, or its result."""

    answered: tuple[Answered, ...]
    entry: Entry | None
    instruction: str
    measured: int
    result: Result | None

    @property
    def number(self) -> int:
        """Return which step this is, counted from 1."""
        return len(self.answered) + 1


def fields_for(clinic: Clinic, measured: int) -> tuple[Field, ...]:
    """Return every question about so many tubes, in the order asked."""
    kinds = (Choice(value=str(kind.pk), label=kind.name) for kind in tube_kinds(clinic))
    asked = [
        Field(name=KIND, label="Kind of tube", choices=(Choice(value="", label="choose"), *kinds)),
        Field(name=TEMPERATURE, label="Water", unit="°C"),
    ]
    for number in range(measured):
        which = f", tube {number + 1}" if measured > 1 else ""
        for key in LEVELS:
            label, unit = LABELS[key]
            asked.append(Field(name=f"tubes.{number}.{key}", label=f"{label}{which}", unit=unit))
    return tuple(asked)


def measured_in(posted: Mapping[str, str]) -> int:
    """Return how many tubes are being measured."""
    text = posted.get("measured", "1")
    return min(max(int(text), 1), TUBES_MAX) if text.isdecimal() and len(text) == 1 else 1


def stage_of(clinic: Clinic, posted: Mapping[str, str]) -> tuple[Stage, tuple[Refusal, ...]]:
    """Return where a measurement stands, and why its last answer was refused.

    ``step`` is ``next``, ``back`` (forget the last answer) or ``more`` (measure another tube).
    """
    measured = measured_in(posted) + (posted.get("step") == "more")
    fields = fields_for(clinic, min(measured, TUBES_MAX))
    values = {field.name: posted.get(field.name, "").strip() for field in fields}
    given = [field.name for field in fields if values[field.name]]
    if posted.get("step") == "back" and given:
        values[given[-1]] = ""
    refused = _refused(clinic, values, fields)
    if refused:
        return _asking(fields, values, refused), refused
    unanswered = next((field.name for field in fields if not values[field.name]), None)
    if unanswered is None:
        return _told(clinic, fields, values), ()
    missed: tuple[Refusal, ...] = ()
    if posted.get("step") == "next" and unanswered in posted:
        missed = (Refusal(unanswered, "missing", "it must be answered", "Measure it, then go on."),)
    return _asking(fields, values, missed, asked=unanswered), missed


def answers(clinic: Clinic, posted: Mapping[str, str]) -> tuple[TubeKind, list[Levels], float]:
    """Return everything that was answered, to be kept.

    Raises
    ------
    Refusals
        If something is missing or no number.
    """
    fields = fields_for(clinic, measured_in(posted))
    return _read(clinic, {field.name: posted.get(field.name, "").strip() for field in fields}, measured_in(posted))


def _read(clinic: Clinic, values: Mapping[str, str], measured: int) -> tuple[TubeKind, list[Levels], float]:
    reading = Reading(values)
    kind = reading.required(KIND, tube_kinds(clinic))
    temperature_c = reading.number(TEMPERATURE)
    tubes = [Levels(**{key: reading.number(f"tubes.{number}.{key}") for key in LEVELS}) for number in range(measured)]
    reading.done()
    return kind, tubes, temperature_c


def _refused(clinic: Clinic, values: Mapping[str, str], fields: Sequence[Field]) -> tuple[Refusal, ...]:
    """Return what is wrong with the answers so far: each by itself, and every tube once it is whole."""
    reading = Reading(values)
    if values[KIND] and reading.one_of(KIND, tube_kinds(clinic)) is None:
        return (Refusal(KIND, values[KIND], "it must stand on your shelf", "Choose one."),)
    for field in fields:
        if field.name != KIND and values[field.name]:
            reading.number(field.name)
    if reading.found:
        return tuple(reading.found)
    try:
        if values[TEMPERATURE]:
            water_density_kg_m3(reading.number(TEMPERATURE))
        whole = [number for number in range(TUBES_MAX) if all(values.get(f"tubes.{number}.{key}") for key in LEVELS)]
        if whole and values[KIND] and values[TEMPERATURE]:
            kind, tubes, temperature_c = _read(clinic, values, len(whole))
            measured_bore(kind, tubes, temperature_c=temperature_c)
    except (Refusal, Refusals) as found:
        return found.found if isinstance(found, Refusals) else (found,)
    return ()


def _asking(
    fields: Sequence[Field], values: Mapping[str, str], refused: Sequence[Refusal], asked: str | None = None
) -> Stage:
    """Return the stage at one question: that which was refused first, or the next one. What follows is forgotten."""
    names = [field.name for field in fields]
    at = asked or next(refusal.field for refusal in refused if refusal.field in names)
    place = names.index(at)
    return Stage(
        answered=tuple(_answered(field, values[field.name]) for field in fields[:place]),
        entry=shown_entry(fields[place], values, sentences_of(refused)),
        instruction=INSTRUCTIONS[at.rpartition(".")[2]],
        measured=_measured(fields),
        result=None,
    )


def _told(clinic: Clinic, fields: Sequence[Field], values: Mapping[str, str]) -> Stage:
    kind, tubes, temperature_c = _read(clinic, values, _measured(fields))
    bore = measured_bore(kind, tubes, temperature_c=temperature_c)
    more = len(tubes) < TUBES_MAX
    return Stage(
        answered=tuple(_answered(field, values[field.name]) for field in fields),
        entry=None,
        instruction="",
        measured=len(tubes),
        result=Result(kind=kind, bore=bore, caution=caution_tubes_differ(bore), may_measure_more=more),
    )


def _measured(fields: Sequence[Field]) -> int:
    return (len(fields) - 2) // len(LEVELS)


def _answered(field: Field, value: str) -> Answered:
    shown = next((choice.label for choice in field.choices if choice.value == value), value)
    return Answered(name=field.name, label=field.label, value=value, shown=f"{shown} {field.unit}".strip())
