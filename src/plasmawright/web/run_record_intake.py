"""The intake of a run for its record: what was answered, which cautions stood, who went on and why."""

from collections.abc import Mapping
from typing import Any

from plasmawright.documents.record import RecordCaution, RecordFact
from plasmawright.practice.intake import COUNT, QUESTIONS, YES, Question
from plasmawright.practice.intake_cautions import Weight
from plasmawright.records.models import Intake
from plasmawright.web.run_times import day_and_minute

COUNTED = (
    ("platelets_1e9_per_l", "×10⁹ platelets/L"),
    ("hemoglobin_g_per_dl", "g/dL haemoglobin"),
    ("hematocrit_frac", "haematocrit"),
)
DECIDED = {"open": "open", "go_on": "go on", "not_today": "not today"}


def intake_facts(intake: Intake) -> tuple[RecordFact, ...]:
    """Return the count, every question answered with yes, and the decision with its signature."""
    answers = intake.answers
    found = [RecordFact(name="last count", words=_count(answers.get(COUNT) or {}))]
    yes = [one for one in QUESTIONS if (answers.get(one.key) or {}).get("answer") == YES]
    found += [RecordFact(name=one.words, words=_answer(one, answers[one.key])) for one in yes]
    if len(yes) < len(QUESTIONS):
        found.append(RecordFact(name="every other question", words=f"{len(QUESTIONS) - len(yes)} answered with no"))
    consent = "not given" if intake.consent_at is None else f"given {day_and_minute(intake.consent_at)}"
    found.append(RecordFact(name="consent", words=consent))
    signed = "nobody has signed"
    if intake.signed_at is not None:
        signed = f"{DECIDED[intake.decision]}: {intake.signed_by}, {day_and_minute(intake.signed_at)}"
    found.append(RecordFact(name="decision", words=signed))
    if intake.reason:
        found.append(RecordFact(name="reason", words=intake.reason))
    return tuple(found)


def cautions_of(intake: Intake) -> tuple[RecordCaution, ...]:
    """Return the cautions as they stood; those that needed one carry the clinician's reason."""
    return tuple(
        RecordCaution(
            text=one["text"],
            source=one["source"],
            reason="none needed" if one.get("weight") == Weight.CARE.value else intake.reason or "no reason given",
        )
        for one in intake.cautions
    )


def _count(told: Mapping[str, Any]) -> str:
    said = [f"{told[key]:g} {unit}" for key, unit in COUNTED if told.get(key) is not None]
    if not said:
        return "none told"
    return f"{', '.join(said)}, counted {told.get('counted_on') or 'on a day not told'}"


def _answer(question: Question, told: Mapping[str, Any]) -> str:
    said = []
    for detail in question.details:
        value = told.get(detail.key)
        if value is None:
            continue
        chosen = next((choice.words for choice in detail.choices if choice.value == value), "")
        said.append(chosen or f"{value:g} {detail.unit}")
    return ", ".join(["yes", *said])
