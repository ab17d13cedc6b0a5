"""The downtime pack, read back from the PDF."""

import re
import shutil
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from tests.documents.conftest import Planned
from tests.documents.printed_pages import codes_in, pictures_of
from tests.documents.read_back import SIZES, sizes_of, standards_of, words_of

from plasmawright.bench.steps import ORDER, TITLES
from plasmawright.documents.downtime import HOW_TO_GO_ON, DowntimePack, DowntimeRun
from plasmawright.documents.downtime_form import SPACES, blank_form
from plasmawright.documents.labels import label_of, label_sheet
from plasmawright.documents.made import Made, Printed
from plasmawright.documents.rack_card import rack_cards_of
from plasmawright.documents.render import Paper, render_downtime_pack
from plasmawright.documents.worksheet import worksheet_of

PRINTED = Printed(at=datetime(2026, 3, 4, 6, 0, tzinfo=UTC), version="0.1.0")
CODES = {"run AAAA": ["7K2M9QXA", "AKC3DTM4"], "run BBBB": ["UYLDMRQV"]}


def pack_of(planned: Planned, made: Made, paper: Paper = "a4") -> DowntimePack:
    """Return the pack of a day with two runs, the second without a rack card."""
    runs = []
    for title, codes in CODES.items():
        who = (f"Patient of {title}", "born 1965-05-17")
        labels = [label_of(code, vessel="tube", identifiers=who, product="blood") for code in codes]
        second = title == "run BBBB"
        runs.append(
            DowntimeRun(
                title=title,
                identifiers=who,
                worksheet=worksheet_of(planned.visit, planned.answer, layers=planned.layers, made=made),
                rack_cards=None if second else rack_cards_of(planned.visit, planned.answer, made=made),
                labels=label_sheet(labels, title=title, paper=paper, made=PRINTED),
                form=blank_form(("blood tube, lot L-77, expires 2027-01-31",)),
                name_alert=second,
                missing=("No rack card: too tall.",) if second else (),
            )
        )
    return DowntimePack(
        clinic="North Clinic",
        day="2026-03-04",
        how=HOW_TO_GO_ON,
        runs=tuple(runs),
        spare=blank_form(),
        made_words=PRINTED.words,
        made=PRINTED,
    )


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_contents_name_every_paper_and_the_page_it_stands_on(planned: Planned, made: Made, paper: Paper) -> None:
    pages = words_of(render_downtime_pack(pack_of(planned, made, paper), paper=paper))
    contents = pages[0]
    assert contents.startswith("Downtime pack North Clinic 2026-03-04")
    listed = re.findall(r"(worksheet|rack cards|labels|blank record) (\d+)", contents)
    assert [name for name, _ in listed] == [
        "worksheet", "rack cards", "labels", "blank record", "worksheet", "labels", "blank record", "blank record",
    ]  # fmt: skip
    begins = {"worksheet": "Worksheet", "rack cards": "Rack card", "blank record": "Blank record"}
    for name, number in listed:
        page = pages[int(number) - 1]
        assert page.startswith(begins[name]) if name in begins else CODES["run AAAA"][0] in page or "UYLDMRQV" in page
    assert "No rack card: too tall." in contents
    assert "NAME ALERT" in contents


def test_a_blank_record_has_spaces_for_every_step_lots_and_signatures(planned: Planned, made: Made) -> None:
    words = " ".join(words_of(render_downtime_pack(replace(pack_of(planned, made), runs=()), paper="a4")))
    assert set(SPACES) == set(ORDER)
    for step in ORDER:
        assert TITLES[step].replace(" ", "") in words.replace(" ", "")  # a line may break at a hyphen
        for space in SPACES[step]:
            assert space in words
    for said in ("second person: identity, label, volume and clock read back", "not witnessed", "second identifier"):
        assert said in words
    assert "No run is planned for this day." in words


def test_lots_to_open_are_printed_on_the_blank_record(planned: Planned, made: Made) -> None:
    words = " ".join(words_of(render_downtime_pack(pack_of(planned, made), paper="a4")))
    assert words.count("blood tube, lot L-77, expires 2027-01-31") == 2  # one of each run


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="poppler-utils is not installed")
def test_labels_of_the_pack_read_back(planned: Planned, made: Made, tmp_path: Path) -> None:
    pages = pictures_of(render_downtime_pack(pack_of(planned, made), paper="a4"), tmp_path, dots_per_inch=150)
    assert [codes for page in pages if (codes := codes_in(page))] == [sorted(codes) for codes in CODES.values()]


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_pack_is_tagged_archivable_and_of_one_paper(planned: Planned, made: Made, paper: Paper) -> None:
    pdf = render_downtime_pack(pack_of(planned, made, paper), paper=paper)
    assert standards_of(pdf) == (True, True, True)
    sizes = sizes_of(pdf)
    assert sizes == [pytest.approx(SIZES[paper], abs=0.5)] * len(sizes)
