"""A kept intake in words: what was answered yes with its details, what was answered no, what was counted."""

from dataclasses import dataclass

from plasmawright.practice.intake import COUNT, QUESTIONS, YES, Detail
from plasmawright.records.models import Intake

COUNT_WORDS = (
    ("platelets_1e9_per_l", "Platelets", "×10⁹/L"),
    ("hemoglobin_g_per_dl", "Haemoglobin", "g/dL"),
    ("hematocrit_frac", "Haematocrit", ""),
    ("counted_on", "Counted on", ""),
)


@dataclass(frozen=True, kw_only=True)
class Answered:
    """What was answered; ``applying`` pairs a question's words with its details."""

    applying: tuple[tuple[str, str], ...]
    not_applying: tuple[str, ...]
    count: tuple[tuple[str, str, str], ...]


def answered_in_words(intake: Intake) -> Answered:
    """Return the answers of an intake in words."""
    answers = intake.answers
    applying, not_applying = [], []
    for question in QUESTIONS:
        given = answers.get(question.key, {})
        if given.get("answer") == YES:
            details = (_detail(detail, given.get(detail.key)) for detail in question.details)
            applying.append((question.words, ", ".join(details)))
        elif given:  # a question added later was not asked then
            not_applying.append(question.words)
    count = answers.get(COUNT, {})
    counted = tuple((words, f"{count[key]}", unit) for key, words, unit in COUNT_WORDS if key in count)
    return Answered(applying=tuple(applying), not_applying=tuple(not_applying), count=counted)


def _detail(detail: Detail, value: object) -> str:
    if detail.choices:
        return next((choice.words for choice in detail.choices if choice.value == value), str(value))
    return f"{float(str(value)):g} {detail.unit}"
