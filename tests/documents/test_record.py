"""The record of a run, read back from the PDF."""

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import pytest
from tests.documents.conftest import Planned
from tests.documents.read_back import SIZES, sizes_of, standards_of, words_of

from plasmawright.bench.steps import ORDER, TITLES
from plasmawright.documents.made import Printed
from plasmawright.documents.record import (
    LedgerHead,
    RecordCaution,
    RecordEvent,
    RecordFact,
    RecordForesight,
    RecordLot,
    RecordSignature,
    RecordStep,
    RecordVessel,
    RunRecord,
)
from plasmawright.documents.render import Paper, render_record
from plasmawright.documents.tube_drawing import spun_tube
from plasmawright.documents.worksheet_steps import SheetLine

PRINTED = Printed(at=datetime(2026, 3, 4, 12, 30, tzinfo=UTC), version="0.1.0")
DIGEST = "5e" * 32
AMENDED = RecordEvent(
    at="09:44:10",
    by="Pim Example",
    words="red seen at 35 mm (misread; Cleo Example)",
    marks=("entered later, at 10:40:00", "under review"),
    was=("red seen at 36 mm", "red seen at 35.5 mm"),
)


@pytest.fixture
def record(planned: Planned) -> RunRecord:
    """Return a record in which something of each kind happened."""
    tube = planned.visit.tubes[planned.visit.bench.tube]
    steps = tuple(
        RecordStep(
            title=TITLES[step],
            planned=(
                SheetLine(words=f"do {step.value}", predicted=False),
                SheetLine(words="expect 4.9 mL", predicted=True),
            ),
            happened=(AMENDED,) if step.value == "look" else (),
        )
        for step in ORDER
    )
    return RunRecord(
        code="7K2M9QXA",
        clinic="North Clinic",
        identifiers=(
            RecordFact(name="name", words="Ada Example"),
            RecordFact(name="born", words="1965-05-17"),
            RecordFact(name="record number", words="R-1"),
        ),
        practice=False,
        outcome="Released 2026-03-04 11:02 UTC",
        setting="Two people: somebody other than the preparer releases.",
        summary=(
            RecordFact(name="final volume", words="3.1 mL PRP"),
            RecordFact(name="platelets in the PRP", words="predicted 3.6 billion (2.9 to 4.4)", predicted=True),
        ),
        intake=(RecordFact(name="decision", words="go on: Cleo Example"),),
        cautions=(RecordCaution(text="The last count is old.", source="rule 7", reason="Counted again today."),),
        steps=steps,
        tube=spun_tube(tube, planned.layers, margin_mm=4, low_mm=33, high_mm=38),
        stop_words="stop 4 mm above the red you see",
        interface_words="red expected at 35.5 mm",
        seen_mm=35.0,
        foresights=(
            RecordForesight(
                seen="red seen at 35 mm",
                what="platelets in the PRP",
                before="3.6 billion (2.9 to 4.4)",
                after="3.4 billion (3.1 to 3.8)",
                words="Under-spun: a height helps.",
            ),
        ),
        clocks=(RecordFact(name="hold", words="1 h 20 min of 4 h"), RecordFact(name="open", words="38 min")),
        deviations=(RecordEvent(at="09:45:00", by="Pim Example", words="something differs: *light* was #poor"),),
        mishaps=(RecordEvent(at="09:50:00", by="Pim Example", words="Short draw (tubes 3)"),),
        vessels=(RecordVessel(code="AKC3DTM4", vessel="tube 1", holds="blood", scanned="09:36:00"),),
        lots=(RecordLot(supply="blood tube", number="L-77", expiry="2027-01-31", quantity="4"),),
        signatures=(
            RecordSignature(meaning="Released", signer="Cleo Example", at="2026-03-04 11:02 UTC", witnessed=True),
        ),
        disposal=(),
        head=LedgerHead(seq=314, digest=DIGEST),
        zone="UTC",
        plan_words="The plan: seed 1",
        made_words=PRINTED.words,
        made=PRINTED,
    )


def printed(record: RunRecord, **changed: Any) -> str:  # Any: fields differ in type
    """Return all words of the record on one line."""
    return " ".join(words_of(render_record(replace(record, **changed), paper="a4")))


def test_nothing_that_happened_is_missing(record: RunRecord) -> None:
    words = printed(record)
    for said in (
        "Ada Example", "1965-05-17", "R-1", "Released 2026-03-04 11:02 UTC", "3.1 mL PRP", "The last count is old.",
        "Counted again today.", "under review", "entered later, at 10:40:00", "Under-spun: a height helps.",
        "1 h 20 min of 4 h", "38 min", "*light* was #poor", "Short draw (tubes 3)", "AKC3DTM4", "L-77", "2027-01-31",
        "Cleo Example", "witnessed", "The red was seen at 35 mm", "314", DIGEST,
    ):  # fmt: skip
        assert said in words, said
    assert "not witnessed" not in words
    for step in ORDER:
        assert TITLES[step].replace(" ", "") in words.replace(" ", "")  # a line may break at a hyphen
        assert f"do {step.value}" in words


def test_an_old_value_stays_in_sight_before_the_one_that_counts(record: RunRecord) -> None:
    words = printed(record)
    first, second = words.index("red seen at 36 mm"), words.index("red seen at 35.5 mm")
    assert first < second < words.index("red seen at 35 mm (misread")


def test_a_prediction_stands_before_and_after(record: RunRecord) -> None:
    words = printed(record)
    assert "predicted before" in words
    assert words.index("3.6 billion (2.9 to 4.4) 3.4 billion (3.1 to 3.8)") > 0


def test_a_run_of_one_person_says_not_witnessed(record: RunRecord) -> None:
    alone = replace(record.signatures[0], witnessed=False)
    assert "not witnessed" in printed(record, signatures=(alone,))


def test_what_did_not_happen_is_said_to_be_none(record: RunRecord) -> None:
    words = printed(
        record, cautions=(), foresights=(), deviations=(), mishaps=(), vessels=(), lots=(), signatures=(), tube=None
    )
    for said in (
        "No caution stood.", "No prediction was made anew in this run", "Nothing was told to differ.",
        "No mishap was told.", "No vessel was labelled.", "No lot was entered.", "No disposal was entered.",
        "Nobody has signed.",
    ):  # fmt: skip
        assert said in words


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_practice_stands_on_every_page_and_pages_are_counted(record: RunRecord, paper: Paper) -> None:
    real = words_of(render_record(record, paper=paper))
    practice = words_of(render_record(replace(record, practice=True), paper=paper))
    assert len(practice) > 1
    assert ["PRACTICE" in page for page in practice] == [True] * len(practice)
    assert ["PRACTICE" in page for page in real] == [False] * len(real)
    assert [f"page {number} of {len(real)}" in page for number, page in enumerate(real, 1)] == [True] * len(real)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_record_is_tagged_archivable_and_of_its_paper(record: RunRecord, paper: Paper) -> None:
    pdf = render_record(record, paper=paper)
    assert standards_of(pdf) == (True, True, True)
    sizes = sizes_of(pdf)
    assert sizes == [pytest.approx(SIZES[paper], abs=0.5)] * len(sizes)


def test_strange_and_endless_words_never_stop_a_print(record: RunRecord) -> None:
    long = RecordEvent(at="09:45:00", by="膝", words="\u202e" + "膝關節 " * 300 + "W" * 400, was=("x" * 500,))
    words = printed(record, deviations=(long,), mishaps=(long,) * 6, code="שלום")
    assert "⟨U+819D" in words


def test_the_same_record_is_the_same_bytes(record: RunRecord) -> None:
    assert render_record(record, paper="a4") == render_record(record, paper="a4")
