"""The rack card at true size, measured in the PDF."""

import io
import shutil
import subprocess
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PageObject, PdfReader
from tests.documents.conftest import Planned
from tests.documents.drawn_lines import Line, level_lines

from plasmawright.documents.made import Made
from plasmawright.documents.rack_card import RackCards, rack_cards_of
from plasmawright.documents.render import Paper
from plasmawright.errors import Refusal
from plasmawright.preparation.protocol import TubeKind
from plasmawright.science.tube import Bottom

Print = Callable[..., bytes]

# What a hand can still use, and what the papers promise.
AGREE_WITHIN_MM = 0.5
# Thicknesses by which the lines of a card are told apart.
BAR_MM, STOP_MM, RED_MM, ZERO_MM = 1.2, 0.8, 0.35, 0.3
SLIDER_LONG_MM = 62.0


def first_page(pdf: bytes) -> PageObject:
    """Return the first page."""
    return PdfReader(io.BytesIO(pdf)).pages[0]


def lines_of(page: PageObject, thick_mm: float) -> list[Line]:
    """Return the level lines of one thickness."""
    return [line for line in level_lines(page) if line.thick_mm == pytest.approx(thick_mm, abs=0.02)]


@pytest.fixture
def cards(planned: Planned, made: Made) -> RackCards:
    """Return the example's cards."""
    return rack_cards_of(planned.visit, planned.answer, made=made)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_one_check_bar_is_fifty_millimetres_long(planned: Planned, rack_cards: Print, paper: Paper) -> None:
    (bar,) = lines_of(first_page(rack_cards(planned, paper)), BAR_MM)
    assert bar.long_mm == pytest.approx(50, abs=AGREE_WITHIN_MM)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_each_stop_line_stands_where_the_card_says(
    planned: Planned, cards: RackCards, rack_cards: Print, paper: Paper
) -> None:
    page = first_page(rack_cards(planned, paper))
    stops = [line for line in lines_of(page, STOP_MM) if line.long_mm < SLIDER_LONG_MM - 1]
    assert len(stops) == len(cards.cards) == 3
    for card, stop in zip(cards.cards, sorted(stops, key=lambda line: line.x_mm), strict=True):
        # the card's own 0, the inside of the bottom, is the lowest line that reaches as far to the right
        right_mm = stop.x_mm + stop.long_mm
        zeros = [line for line in lines_of(page, ZERO_MM) if abs(line.x_mm + line.long_mm - right_mm) < 0.1]
        (zero,) = zeros
        assert stop.y_mm - zero.y_mm == pytest.approx(card.stop_mm, abs=AGREE_WITHIN_MM)
        reds = [line for line in lines_of(page, RED_MM) if abs(line.x_mm - stop.x_mm) < 0.1]
        (red,) = reds
        assert stop.y_mm - red.y_mm == pytest.approx(cards.margin_mm, abs=AGREE_WITHIN_MM)


@pytest.mark.parametrize("margin_mm", [0.5, 1.0, 4.0, 9.5, 20.0])
def test_the_lines_of_the_ruler_that_slides_are_the_margin_apart(
    planned: Planned, rack_cards: Print, margin_mm: float
) -> None:
    stop = planned.chosen["stop"]
    assert isinstance(stop, dict)
    changed = planned.with_chosen(stop={**stop, "above_cells_mm": margin_mm})
    page = first_page(rack_cards(changed))
    (upper,) = [line for line in lines_of(page, STOP_MM) if line.long_mm == pytest.approx(SLIDER_LONG_MM, abs=0.1)]
    (lower,) = [line for line in lines_of(page, RED_MM) if line.long_mm == pytest.approx(SLIDER_LONG_MM, abs=0.1)]
    assert upper.y_mm - lower.y_mm == pytest.approx(margin_mm, abs=AGREE_WITHIN_MM)


def test_less_blood_stands_lower_and_its_red_is_lower(cards: RackCards) -> None:
    # the same bore with 5 % and 10 % less blood: both the column and the bed under it shrink
    filled = [card.filled_mm for card in cards.cards]
    red = [card.interface_mm for card in cards.cards]
    assert filled == sorted(filled, reverse=True)
    assert red == sorted(red, reverse=True)
    bore_mm2 = 3.14159 * 6.5**2
    assert filled[0] - filled[2] == pytest.approx(0.1 * 8.5e3 / bore_mm2, abs=0.01)


def test_the_full_card_says_what_the_plan_says(planned: Planned, cards: RackCards) -> None:
    stop = planned.chosen["stop"]
    assert isinstance(stop, dict)
    told = stop["expected_interface_mm"]
    assert told["p50"] <= cards.cards[0].interface_mm < told["p50"] + 0.5  # to the half above, away from the cells
    assert told["p05"] <= cards.cards[0].interface_low_mm
    assert told["p95"] <= cards.cards[0].interface_high_mm


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="poppler-utils is not installed")
def test_the_bar_is_fifty_millimetres_in_the_picture_another_program_makes(
    planned: Planned, rack_cards: Print, tmp_path: Path
) -> None:
    (tmp_path / "card.pdf").write_bytes(rack_cards(planned))
    dots_per_mm = 10
    subprocess.run(
        ["pdftoppm", "-r", str(25.4 * dots_per_mm), "-gray", "-singlefile", "card.pdf", "card"],
        cwd=tmp_path,
        check=True,
    )
    header, size, most, dots = (tmp_path / "card.pgm").read_bytes().split(b"\n", 3)
    assert (header, most) == (b"P5", b"255")
    wide = int(size.split()[0])
    rows = [dots[start : start + wide] for start in range(0, len(dots), wide)]
    # the bar is the thickest level line: eight rows of dots at least, each black in one run as long as the bar
    runs = [
        max(len(run) for run in bytes(64 if dot < 128 else 32 for dot in row).split())
        for row in rows[:400]
        if min(row) < 128
    ]
    bar = [run / dots_per_mm for run in runs if 400 < run < 600]
    assert len(bar) >= 8
    assert bar == pytest.approx([50.0] * len(bar), abs=AGREE_WITHIN_MM)


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize(
    "kind",
    [
        TubeKind(inner_diameter_mm=27, bottom=Bottom.CONICAL, cone_height_mm=15, tip_diameter_mm=4, capacity_ml=50),
        TubeKind(inner_diameter_mm=15.5, bottom=Bottom.FLAT, capacity_ml=16),
        TubeKind(inner_diameter_mm=60, bottom=Bottom.FLAT, capacity_ml=250),
    ],
    ids=["wide conical", "flat", "bottle"],
)  # fmt: skip
def test_other_tubes_fit_the_paper(planned: Planned, rack_cards: Print, kind: TubeKind, paper: Paper) -> None:
    pot = TubeKind(inner_diameter_mm=60, bottom=Bottom.FLAT, capacity_ml=250)  # holds all that is pooled
    tubes = {"collection": kind, "conical": pot}
    blood_ml = min(0.7 * kind.capacity_ml, 60)  # more would leave more red cells than fit under the plan's plasma
    bench = replace(planned.visit.bench, blood_ml=blood_ml, anticoagulant_ml=blood_ml / 7)
    other = replace(planned, visit=replace(planned.visit, tubes=tubes, bench=bench))
    pages = PdfReader(io.BytesIO(rack_cards(other, paper))).pages
    lines = [line for page in pages for line in level_lines(page)]
    assert len([line for page in pages for line in lines_of(page, STOP_MM)]) == 4  # three cards and the ruler
    assert min(line.x_mm for line in lines) >= 13  # inside the margin of 14 mm
    assert max(line.x_mm + line.long_mm for line in lines) <= float(pages[0].mediabox.width) * 25.4 / 72 - 13


def test_a_column_taller_than_the_paper_is_refused_with_a_way_out(planned: Planned, made: Made) -> None:
    # 10 mL in a bore of 7.5 mm stand 227 mm high, in a rotor wide enough for them
    thin = replace(planned.visit.tubes["collection"], inner_diameter_mm=7.5, bottom_radius_mm=400)
    tubes = {**planned.visit.tubes, "collection": thin}
    with pytest.raises(Refusal, match=r"at most 190 mm. Use the worksheet"):
        rack_cards_of(replace(planned.visit, tubes=tubes), planned.answer, made=made)


def test_a_fill_from_which_nothing_can_be_taken_has_no_card_but_a_word(planned: Planned, rack_cards: Print) -> None:
    # in a wide bottle 10 mL stand so low that with a tenth of the blood missing the stop is above the meniscus
    bottle = TubeKind(inner_diameter_mm=39, bottom=Bottom.FLAT, capacity_ml=250)
    tubes = {**planned.visit.tubes, "collection": bottle}
    text = first_page(rack_cards(replace(planned, visit=replace(planned.visit, tubes=tubes)))).extract_text()
    assert "10% short of blood: nothing stands above the stop" in " ".join(text.split())


def test_a_strange_reference_never_stops_a_print(planned: Planned, rack_cards: Print) -> None:
    patient = replace(planned.visit.patient, reference="膝 שלום")
    text = first_page(rack_cards(replace(planned, visit=replace(planned.visit, patient=patient)))).extract_text()
    assert "⟨U+819D⟩" in text


def test_the_same_cards_are_the_same_bytes(planned: Planned, rack_cards: Print) -> None:
    assert rack_cards(planned) == rack_cards(planned)
