"""The form of a patient: what stands in it, and what it comes to."""

from collections.abc import Iterable, Mapping
from datetime import date
from typing import TypedDict

from plasmawright.errors import Refusal, Refusals
from plasmawright.records.models import Patient
from plasmawright.records.selectors.intake import last_count
from plasmawright.records.selectors.patients import reference_of
from plasmawright.web.entry import Choice, Entries, Field, Group, number_in, sentences_of, shown_group, text_of

DAYS_PER_YEAR = 365.25

IDENTITY = Group(
    title="Who",
    fields=(
        Field(name="patient.name", label="Name", inputmode="text", hint="As on the identity paper, in any script."),
        Field(name="patient.birth_on", label="Birth date", inputmode="text", hint="Such as 1961-04-23."),
        Field(
            name="patient.record_number",
            label="Record number",
            inputmode="text",
            hint="Left empty, a number is given.",
        ),
    ),
)
BODY = Group(
    title="Body",
    hint="For the blood volume and the limits of a draw.",
    fields=(
        Field(
            name="patient.sex_for_blood_volume",
            label="Blood-volume formula",
            choices=(
                Choice(value="", label="choose"),
                Choice(value="female", label="female"),
                Choice(value="male", label="male"),
            ),
        ),
        Field(name="patient.weight_kg", label="Weight", unit="kg", when_empty="not weighed"),
        Field(name="patient.height_cm", label="Height", unit="cm", when_empty="not measured"),
    ),
)
GROUPS = (IDENTITY, BODY)
FIELDS = tuple(field for group in GROUPS for field in group.fields)


class Told(TypedDict):
    """What a form says of a patient, as the services take it."""

    name: str
    birth_on: date
    record_number: str
    sex_for_blood_volume: str
    weight_kg: float | None
    height_cm: float | None


def entered(posted: Mapping[str, str]) -> dict[str, str]:
    """Return what stands in every field, as it was typed."""
    return {field.name: posted.get(field.name, "").strip() for field in FIELDS}


def values_of(patient: Patient) -> dict[str, str]:
    """Return the form as it stands for a patient who is known."""
    known = {field.name: getattr(patient, field.name.removeprefix("patient.")) for field in FIELDS}
    return {name: "" if value is None else text_of(value) for name, value in known.items()}


def told_in(values: Mapping[str, str]) -> Told:
    """Return what the form says.

    Raises
    ------
    Refusals
        If a date or a number is none.
    """
    found: list[Refusal] = []
    born = _day(values["patient.birth_on"], found)
    weight_kg, height_cm = (_number(values, f"patient.{key}", found) for key in ("weight_kg", "height_cm"))
    if found or born is None:
        raise Refusals(found)
    return Told(
        name=values["patient.name"],
        birth_on=born,
        record_number=values["patient.record_number"],
        sex_for_blood_volume=values["patient.sex_for_blood_volume"],
        weight_kg=weight_kg,
        height_cm=height_cm,
    )


def _day(text: str, found: list[Refusal]) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        limit, remedy = "it must be a day", "Write year, month and day, such as 1961-04-23."
        found.append(Refusal("patient.birth_on", text or "empty", limit, remedy))
        return None


def _number(values: Mapping[str, str], name: str, found: list[Refusal]) -> float | None:
    value = number_in(values[name])
    if isinstance(value, str):
        if value:
            found.append(Refusal(name, value, "it must be a number", "Write a number, or leave it empty."))
        return None
    return float(value)


def shown_form(values: Mapping[str, str], refused: Iterable[Refusal] = ()) -> list[Entries]:
    """Return the form as the page shows it, each refused field beside its sentences."""
    sentences = sentences_of(refused)
    return [shown_group(group, values, sentences) for group in GROUPS]


def visit_values(patient: Patient, *, on: date) -> dict[str, str]:
    """Return what a plan for a patient starts with: body and age, and the blood count told last."""
    count = last_count(patient)
    known: dict[str, object | None] = {
        "patient.reference": reference_of(patient),
        "patient.age_years": int((on - patient.birth_on).days / DAYS_PER_YEAR),
        "patient.sex_for_blood_volume": patient.sex_for_blood_volume,
        "patient.weight_kg": patient.weight_kg,
        "patient.height_cm": patient.height_cm,
    }
    known |= {f"blood.{key}": value for key, value in count.items() if key != "counted_on"}
    if "counted_on" in count:
        known["blood.counted_days_ago"] = (on - date.fromisoformat(str(count["counted_on"]))).days
    return {name: text_of(value) for name, value in known.items() if value is not None}
