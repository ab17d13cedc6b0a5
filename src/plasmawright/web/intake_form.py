"""The form of an intake: questions to tick, details of those ticked, and the last blood count."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from plasmawright.errors import Refusal
from plasmawright.practice.intake import COUNT, NO, QUESTIONS, YES, Detail, Question
from plasmawright.records.models import Patient
from plasmawright.records.selectors.intake import last_count
from plasmawright.records.selectors.settings import thresholds_of
from plasmawright.web.entry import Entries, Field, Group, Sentences, number_in, sentences_of, shown_group, text_of

ASKED = "asked"
"""Sent by the one button that says the others do not apply; without it no question was answered."""
ASKED_ALL = "all"

COUNTED = Group(
    title="Last blood count",
    hint="What was not counted is left empty.",
    fields=(
        Field(name="intake.count.platelets_1e9_per_l", label="Platelets", unit="×10⁹/L", when_empty="not counted"),
        Field(name="intake.count.hemoglobin_g_per_dl", label="Haemoglobin", unit="g/dL", when_empty="not counted"),
        Field(name="intake.count.hematocrit_frac", label="Haematocrit", unit="0 to 1", when_empty="not counted"),
        Field(name="intake.count.counted_on", label="Counted on", inputmode="text", hint="Such as 2026-03-04."),
    ),
)


@dataclass(frozen=True, kw_only=True)
class ShownDetail:
    """A further question, what was entered, and why it was refused."""

    detail: Detail
    name: str
    value: str
    refusals: tuple[str, ...]

    @property
    def id(self) -> str:
        """Return the element's id in the page."""
        return self.name.replace(".", "-")


@dataclass(frozen=True, kw_only=True)
class ShownQuestion:
    """A question, whether it was ticked, and its details."""

    question: Question
    name: str
    ticked: bool
    details: tuple[ShownDetail, ...]
    refusals: tuple[str, ...]

    @property
    def id(self) -> str:
        """Return the element's id in the page."""
        return self.name.replace(".", "-")


@dataclass(frozen=True, kw_only=True)
class Form:
    """The whole form, with what was refused."""

    count: Entries
    questions: tuple[ShownQuestion, ...]
    unplaced: tuple[str, ...]
    refused: bool


def started(patient: Patient, *, on: date) -> dict[str, str]:
    """Return the form as an intake starts: the last count where it is not too old by the clinic's own days."""
    count = last_count(patient)
    if not count:
        return {}
    days_ago = (on - date.fromisoformat(str(count["counted_on"]))).days
    if days_ago > thresholds_of(patient.clinic).count_age_days_max:
        return {}
    return {f"intake.{COUNT}.{key}": text_of(value) for key, value in count.items()}


def answers_in(values: Mapping[str, str]) -> dict[str, object]:
    """Return the answers that ``values`` amount to, for ``answers_from`` to judge.

    What is not ticked counts as no only where the button was pressed that says so.
    """
    otherwise = NO if values.get(ASKED) == ASKED_ALL else ""
    answers: dict[str, object] = {}
    for question in QUESTIONS:
        if not _ticked(question, values):
            answers[question.key] = {"answer": otherwise}
            continue
        details = {detail.key: _value(detail, values.get(_name(question, detail), "")) for detail in question.details}
        answers[question.key] = {"answer": YES, **details}
    answers[COUNT] = {
        field.name.rpartition(".")[2]: _typed(field, values.get(field.name, "").strip()) for field in COUNTED.fields
    }
    return answers


def _typed(field: Field, text: str) -> object:
    return number_in(text) if field.inputmode == "decimal" else text


def _value(detail: Detail, text: str) -> object:
    return text if detail.choices else number_in(text.strip())


def _ticked(question: Question, values: Mapping[str, str]) -> bool:
    return values.get(f"intake.{question.key}") == YES


def _name(question: Question, detail: Detail) -> str:
    return f"intake.{question.key}.{detail.key}"


def shown_form(values: Mapping[str, str], refused: Iterable[Refusal] = ()) -> Form:
    """Return the form as the page shows it, everything as it was entered."""
    sentences = sentences_of(refused)
    questions = tuple(_shown(question, values, sentences) for question in QUESTIONS)
    placed = {field.name for field in COUNTED.fields} | {question.name for question in questions}
    placed |= {detail.name for question in questions for detail in question.details}
    return Form(
        count=shown_group(COUNTED, values, sentences),
        questions=questions,
        unplaced=tuple(words for name, found in sentences.items() if name not in placed for words in found),
        refused=bool(sentences),
    )


def _shown(question: Question, values: Mapping[str, str], sentences: Sentences) -> ShownQuestion:
    name = f"intake.{question.key}"
    details = tuple(
        ShownDetail(
            detail=detail,
            name=_name(question, detail),
            value=values.get(_name(question, detail), ""),
            refusals=sentences.get(_name(question, detail), ()),
        )
        for detail in question.details
    )
    return ShownQuestion(
        question=question,
        name=name,
        ticked=_ticked(question, values),
        details=details,
        refusals=sentences.get(name, ()),
    )
