"""Labels, read back from the printed page by another program."""

import shutil
import string
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import ImageChops
from tests.documents.printed_pages import DOTS_PER_INCH, codes_in, pictures_of
from tests.documents.read_back import POINTS_PER_MM, SIZES, sizes_of, standards_of, words_of

from plasmawright.documents.label_code import CODE_CHARACTERS_MAX, label_code
from plasmawright.documents.labels import GRIDS, Label, LabelSheet, label_of, label_sheet, strip_words
from plasmawright.documents.made import Printed
from plasmawright.documents.render import Paper, render_labels, render_single_labels
from plasmawright.errors import OutOfRange, Refusal

needs_poppler = pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="poppler-utils is not installed")

PRINTED = Printed(at=datetime(2026, 3, 4, 9, 30, tzinfo=UTC), version="0.1.0")
WHO = ("Ada Example", "born 1965-05-17", "no. R-1")
# Unmistakable letters and figures, as codes are made of.
CODES = ["7K2M9QXA", "AKC3DTM4", "UYLDMRQV", "6YYNM9JP"]


def made_label(code: str | None = CODES[0], **changed: Any) -> Label:  # Any: fields differ in type
    """Return a filled label."""
    label = label_of(code, vessel="syringe 1 of 2", identifiers=WHO, product="PRP")
    told = {"volume": "3.0 mL", "prepared": "2026-03-04 09:59 UTC", "use_by": "2026-03-04 13:32 UTC"}
    return replace(label, **{**told, **changed})


def made_sheet(*labels: Label, paper: Paper = "a4", first: int = 1) -> LabelSheet:
    """Return a sheet of labels."""
    return label_sheet(labels, title="7K2M", paper=paper, made=PRINTED, first=first, inner_diameters_mm=(13.0, 14.6))


@needs_poppler
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_every_code_reads_back_from_the_printed_sheet(paper: Paper, tmp_path: Path) -> None:
    sheet = made_sheet(*(made_label(code) for code in CODES), paper=paper)
    first, how = pictures_of(render_labels(sheet, paper=paper), tmp_path)
    assert codes_in(first) == sorted(CODES)
    assert codes_in(how) == []


@needs_poppler
def test_every_code_reads_back_from_single_labels(tmp_path: Path) -> None:
    pages = pictures_of(render_single_labels(made_sheet(*(made_label(code) for code in CODES)), paper="a4"), tmp_path)
    assert [codes_in(page) for page in pages] == [[code] for code in CODES]


@needs_poppler
@settings(max_examples=20, deadline=None)
@given(st.text(string.ascii_letters + string.digits + ":-_/. ", min_size=1, max_size=CODE_CHARACTERS_MAX))
def test_any_code_a_scanner_can_type_reads_back(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    pdf = render_single_labels(made_sheet(made_label(text)), paper="a4")
    (page,) = pictures_of(pdf, tmp_path_factory.mktemp("label"))
    assert codes_in(page) == [text]


@needs_poppler
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_modules_are_at_least_half_a_millimetre(paper: Paper, tmp_path: Path) -> None:
    label = made_label()
    (page,) = pictures_of(render_single_labels(made_sheet(label, paper=paper), paper=paper), tmp_path)
    assert label.code is not None
    # the solid left edge of the code, found where the label's left part is darkest from top to bottom
    dark = page.point(lambda dot: 255 * (dot < 128), "L")
    columns = [dark.crop((x, 0, x + 1, page.height)).histogram()[255] for x in range(page.width // 4)]
    tall_mm = max(columns) / DOTS_PER_INCH * 25.4
    assert tall_mm / label.code.across >= 0.5


@pytest.mark.parametrize("text", ["", "膝", "a\nb", "x" * (CODE_CHARACTERS_MAX + 1)])
def test_a_code_no_scanner_types_is_refused(text: str) -> None:
    with pytest.raises(Refusal, match="Make the code anew"):
        label_code(text)


@needs_poppler
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_part_used_sheet_begins_where_it_is_told(paper: Paper, tmp_path: Path) -> None:
    grid = GRIDS[paper]
    first = grid.columns + 2  # the second label of the second row
    (page, _how) = pictures_of(render_labels(made_sheet(made_label(), paper=paper, first=first), paper=paper), tmp_path)
    ink = ImageChops.invert(page).getbbox()
    assert ink is not None
    left_mm, top_mm, right_mm, bottom_mm = (edge / DOTS_PER_INCH * 25.4 for edge in ink)
    assert grid.left_mm + grid.across_mm <= left_mm
    assert right_mm <= grid.left_mm + grid.across_mm + grid.wide_mm
    assert grid.top_mm + grid.down_mm <= top_mm
    assert bottom_mm <= grid.top_mm + grid.down_mm + grid.tall_mm


def test_labels_go_on_to_a_second_sheet_when_the_first_is_full() -> None:
    labels = [made_label(CODES[0]), made_label(CODES[1])]
    pages = words_of(render_labels(made_sheet(*labels, first=GRIDS["a4"].positions), paper="a4"))
    assert [code in page for code, page in zip(CODES[:2], pages[:2], strict=True)] == [True, True]
    assert len(pages) == 3  # and how to put them on


@pytest.mark.parametrize("first", [0, 28])
def test_a_position_the_sheet_does_not_have_is_refused(first: int) -> None:
    with pytest.raises(OutOfRange, match="between 1 and 27"):
        made_sheet(made_label(), first=first)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_grids_fit_their_paper_and_labels_do_not_overlap(paper: Paper) -> None:
    grid, (wide, tall) = GRIDS[paper], SIZES[paper]
    assert grid.left_mm * 2 + (grid.columns - 1) * grid.across_mm + grid.wide_mm == pytest.approx(
        wide / POINTS_PER_MM, abs=0.5
    )
    assert grid.top_mm + (grid.rows - 1) * grid.down_mm + grid.tall_mm <= tall / POINTS_PER_MM
    assert (grid.across_mm >= grid.wide_mm, grid.down_mm >= grid.tall_mm) == (True, True)


def test_a_single_label_is_as_large_as_it_says() -> None:
    (size,) = sizes_of(render_single_labels(made_sheet(made_label()), paper="a4"))
    assert size == pytest.approx((63.5 * POINTS_PER_MM, 29.6 * POINTS_PER_MM), abs=0.1)


def test_a_label_says_who_what_and_until_when() -> None:
    (words,) = words_of(render_single_labels(made_sheet(made_label(place="heel (left)")), paper="a4"))
    for said in (*WHO, "PRP · 3.0 mL", "heel (left)", "2026-03-04 09:59 UTC", "2026-03-04 13:32 UTC", CODES[0]):
        assert said in words
    assert "for this patient only" in words
    assert "NAME ALERT" not in words
    assert "PRACTICE" not in words


@pytest.mark.parametrize("shown", [WHO[:1], WHO[1:], WHO[2:], (WHO[0], WHO[2])])
def test_only_the_identifiers_a_clinic_chose_are_printed(shown: tuple[str, ...]) -> None:
    (words,) = words_of(render_single_labels(made_sheet(made_label(identifiers=shown)), paper="a4"))
    assert [who in words for who in WHO] == [who in shown for who in WHO]


def test_a_name_alert_and_practice_are_marked() -> None:
    sheet = made_sheet(made_label(name_alert=True, practice=True))
    (words,) = words_of(render_single_labels(sheet, paper="a4"))
    assert "NAME ALERT" in words
    assert "PRACTICE" in words
    assert "PRACTICE" in words_of(render_labels(sheet, paper="a4"))[-1]


@needs_poppler
@pytest.mark.parametrize(
    "name", ["W" * 120, "Ånna-Łucja " * 12, "محمد بن عبد الله", "膝关节 李", "a", "\u202eodd", "x\u0300" * 60]
)
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_no_name_breaks_a_label_or_covers_its_code(name: str, paper: Paper, tmp_path: Path) -> None:
    label = made_label(identifiers=(name, *WHO[1:]), name_alert=True, practice=True)
    pdf = render_single_labels(made_sheet(label, paper=paper), paper=paper)
    (page,) = pictures_of(pdf, tmp_path)
    assert codes_in(page) == [CODES[0]]
    (words,) = words_of(pdf)
    for said in ("born 1965-05-17", "PRP · 3.0 mL", "2026-03-04 13:32 UTC", "for this patient only"):
        assert said in words


def test_a_name_cut_short_says_so_by_its_dots() -> None:
    # 120 of the widest letter at 4.5 pt are three lines; beside other identifiers a low label has room for two
    sheet = made_sheet(made_label(identifiers=("W" * 120, *WHO[1:])), paper="letter")
    (words,) = words_of(render_single_labels(sheet, paper="letter"))
    assert "W" * 120 not in words.replace(" ", "")
    assert "W…" in words


def test_the_instructions_tell_how_wide_a_strip_stays_clear() -> None:
    # a bore of 13 mm is 40.84 mm round; a label of 29.6 mm leaves 11.24 mm, told as 11
    words = words_of(render_labels(made_sheet(made_label()), paper="a4"))[-1]
    assert "Bore 13 mm: along the tube, a clear strip of 11 mm" in words
    assert "A label never covers the place where plasma ends and red begins" in words
    assert "this bar is 50 mm" in words


def test_a_tube_too_thin_for_its_label_gets_a_flag() -> None:
    assert "Fold it into a flag" in strip_words(8.7, 29.6)  # 27.3 mm round, less than the label is tall


def test_a_label_without_a_code_says_what_to_compare() -> None:
    (words,) = words_of(render_single_labels(made_sheet(made_label(None)), paper="a4"))
    assert "compare both identifiers" in words


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_labels_are_tagged_and_archivable(paper: Paper) -> None:
    sheet = made_sheet(made_label(), paper=paper)
    assert standards_of(render_labels(sheet, paper=paper)) == (True, True, True)
    assert standards_of(render_single_labels(sheet, paper=paper)) == (True, True, True)
    assert sizes_of(render_labels(sheet, paper=paper)) == [pytest.approx(SIZES[paper], abs=0.5)] * 2


def test_the_same_labels_are_the_same_bytes() -> None:
    sheet = made_sheet(*(made_label(code) for code in CODES))
    assert render_labels(sheet, paper="a4") == render_labels(sheet, paper="a4")
