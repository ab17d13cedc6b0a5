"""The worksheet, read back from the PDF."""

import io
import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from pypdf import PdfReader
from tests.documents.conftest import Planned

from plasmawright.documents.render import Paper
from plasmawright.planning.visit import Product, Side, Site

Print = Callable[..., bytes]

# Width and height in points, as the two standards have them: 210 x 297 mm, 8.5 x 11 in.
SIZES = {"a4": (595.28, 841.89), "letter": (612.0, 792.0)}


def text_of(pdf: bytes) -> str:
    """Return all words of a PDF with single spaces."""
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split())


def with_sites(planned: Planned, names: list[str], product: Product = Product.PRP) -> Planned:
    """Return the plan with other sites, each given the first site's numbers."""
    sites = tuple(
        Site(id=f"s{number}", name=name, product=product, volume_ml=1.0, side=Side.NONE)
        for number, name in enumerate(names)
    )
    first = planned.chosen["sites"]
    assert isinstance(first, list)
    told = [
        {**first[0], "id": site.id, "name": site.name, "side": "none", "product": str(product), "volume_ml": 1.0,
         "chance_met": None}
        for site in sites
    ]  # fmt: skip
    rest = planned.chosen["leave_ml_sum"]
    assert isinstance(rest, list)
    summed: list[dict[str, Any]] = [{"what": site.name, "ml": 1.0} for site in sites] + rest[-3:]
    leave_ml = sum(float(part["ml"]) for part in summed)
    changed = planned.with_chosen(sites=told, leave_ml_sum=summed, leave_ml=leave_ml)
    return replace(changed, visit=replace(planned.visit, sites=sites))


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_it_is_one_or_two_pages_of_the_paper_asked_for(planned: Planned, worksheet: Print, paper: Paper) -> None:
    pages = PdfReader(io.BytesIO(worksheet(planned, paper))).pages
    assert len(pages) <= 2
    for page in pages:
        assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx(SIZES[paper], abs=0.01)


def test_the_stop_stands_on_the_first_page_with_what_to_expect(planned: Planned, worksheet: Print) -> None:
    first = " ".join(PdfReader(io.BytesIO(worksheet(planned))).pages[0].extract_text().split())
    assert "Stop 4 mm above the red you see" in first  # 1 + 2 x 1.0 mm of the hand, 1 more for low tolerance
    assert re.search(r"Expect about \d\.\d mL \(\d\.\d to \d\.\d\) out, a tube", first)
    assert "stop and look" in first
    assert "brake off" in first
    assert "graduated" not in first  # the example's collection tube has no graduations


def test_a_graduation_is_named_only_where_the_plan_gives_one(planned: Planned, worksheet: Print) -> None:
    stop = planned.chosen["stop"]
    assert isinstance(stop, dict)
    assert "about the 5.5 mL line" in text_of(worksheet(planned.with_chosen(stop={**stop, "mark_ml": 5.5})))


def test_all_that_makes_it_the_same_again_is_printed(planned: Planned, worksheet: Print) -> None:
    text = text_of(worksheet(planned))
    assert "plasmawright 0.1.0 · seed 1 · 32 draws · parameters literature 0123456789ab" in text
    assert "predicted, not counted" in text
    assert "own rules and the law" in text


def test_every_caution_warning_and_source_is_printed(planned: Planned, worksheet: Print) -> None:
    caution = {"text": "Haemoglobin was not measured.", "source": "clinic rule 4"}
    text = text_of(worksheet(replace(planned, answer={**planned.answer, "cautions": [caution]})))
    assert "Haemoglobin was not measured." in text
    assert "clinic rule 4" in text
    warnings = planned.answer["warnings"]
    assert isinstance(warnings, list)
    assert warnings
    for warning in warnings:
        assert warning in text
    assert "assumed: common practice, no source" in text


def test_the_leave_volume_is_a_sum_that_adds_up(planned: Planned, worksheet: Print) -> None:
    text = text_of(worksheet(planned))
    told = re.search(
        r"attachment \(left\) ([\d.]+) \+ dead.*?([\d.]+) \+ film.*? ([\d.]+) \+ sample.*?([\d.]+) = ([\d.]+)", text
    )
    assert told is not None
    parts = [float(part) for part in told.groups()]
    assert sum(parts[:-1]) == pytest.approx(parts[-1], abs=1e-9)


def test_loads_and_the_water_of_blanks_are_written_out(planned: Planned, worksheet: Print) -> None:
    soft = planned.chosen["soft"]
    assert isinstance(soft, dict)
    blank = [{"place": 7, "mass_g": 10.506, "water_ml": 10.5295}]
    text = text_of(worksheet(planned.with_chosen(soft={**soft, "load": [1, 3, 5], "counterweights": blank})))
    assert "Tubes in 1, 3 and 5. Blank in 7: a tube of the same kind with 10.5 mL of water (10.5 g)." in text


def test_a_point_answer_prints_without_intervals(planned: Planned, worksheet: Print) -> None:
    stop = planned.chosen["stop"]
    assert isinstance(stop, dict)
    point = {**stop, "expected_plasma_ml": 4.98, "expected_interface_mm": 35.1}
    text = text_of(worksheet(planned.with_chosen(stop=point)))
    assert "Expect about 4.9 mL out" in text  # down: never more than is there
    assert "Expect the red 35.5 mm above" in text  # up: away from the cells


def test_a_short_spin_says_what_each_sight_asks_for(planned: Planned, worksheet: Print) -> None:
    alternatives = planned.answer["alternatives"]
    assert isinstance(alternatives, list)
    look = next(plan["look"] for plan in alternatives if "look" in plan)
    text = text_of(worksheet(planned.with_chosen(look=look)))
    assert "Then look: expect the red at" in text
    assert re.search(r"[Rr]ed up to [\d.]+ mm: add \d", text)


def test_it_is_tagged_and_says_its_language_and_title(planned: Planned, worksheet: Print) -> None:
    reader = PdfReader(io.BytesIO(worksheet(planned)))
    root: Any = reader.trailer["/Root"]  # Any: whatever the file holds, which is what is tested
    assert root["/MarkInfo"]["/Marked"].value is True
    assert root["/Lang"].startswith("en")
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert reader.metadata is not None
    assert reader.metadata.title == "Worksheet V-0007"
    claimed = root["/Metadata"].get_object().get_data().decode()
    assert "<pdfuaid:part>1</pdfuaid:part>" in claimed
    assert "<pdfaid:part>2</pdfaid:part>" in claimed


def test_each_drawing_has_words_for_a_screen_reader(planned: Planned, worksheet: Print) -> None:
    alts = alternative_texts(worksheet(planned))
    assert len([one for one in alts if one.startswith("Rotor of 8 places")]) == 2  # one a spin
    assert len([one for one in alts if one.startswith("The tube after the soft spin")]) == 1


def alternative_texts(pdf: bytes) -> list[str]:
    """Return the alternative text of every tagged figure."""
    reader = PdfReader(io.BytesIO(pdf))
    found: list[str] = []
    for number in reader.xref[0]:
        held = reader.get_object(number)
        if isinstance(held, dict) and "/Alt" in held:
            found.append(str(held["/Alt"]))
    return found


def test_the_same_sheet_is_the_same_bytes(planned: Planned, worksheet: Print) -> None:
    assert worksheet(planned) == worksheet(planned)


def test_the_date_is_the_one_it_was_made_at(planned: Planned, worksheet: Print) -> None:
    metadata = PdfReader(io.BytesIO(worksheet(planned))).metadata
    assert metadata is not None
    assert metadata.creation_date is not None
    assert metadata.creation_date.isoformat() == "2026-03-04T09:30:00+00:00"


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_twenty_four_sites_stand_on_two_pages(planned: Planned, worksheet: Print, paper: Paper) -> None:
    names = [f"lumbar facet joint, level {number}" for number in range(24)]
    pdf = worksheet(with_sites(planned, names), paper)
    assert len(PdfReader(io.BytesIO(pdf)).pages) == 2
    text = text_of(pdf)
    for name in names:
        assert name in text
    assert "24 sites, listed overleaf 24.00" in text


def test_the_longest_names_are_printed_whole(planned: Planned, worksheet: Print) -> None:
    name = ("a name as long as a visit may hold " * 4)[:119] + "z"
    pdf = worksheet(with_sites(planned, [name] * 4))
    assert len(PdfReader(io.BytesIO(pdf)).pages) == 2
    assert text_of(pdf).count("a name as long as a visit may hold") >= 4 * 3


@pytest.mark.parametrize(
    "name",
    ["כתף, גיד", "الكتف الأيسر", "μηρός", "Ðorđević ẞ Ǆ", "a < b & $c$ #set *d* @e \\ [f]", "x\u0338\u0301"],
)
def test_letters_the_typeface_holds_are_printed_as_they_are(planned: Planned, worksheet: Print, name: str) -> None:
    pdf = worksheet(with_sites(planned, [name]))
    assert len(PdfReader(io.BytesIO(pdf)).pages) == 2
    assert "U+" not in text_of(pdf)


@pytest.mark.parametrize("name", ["膝关节", "घुटना", "👩\u200d⚕️", "\ue000", "\U000e0041", "膝" * 120])
def test_letters_it_lacks_are_printed_as_code_points(planned: Planned, worksheet: Print, name: str) -> None:
    patient = replace(planned.visit.patient, reference=name)
    strange = with_sites(planned, [name])
    text = text_of(worksheet(replace(strange, visit=replace(strange.visit, patient=patient))))
    assert f"⟨U+{ord(name[0]):04X}" in text
    assert len(PdfReader(io.BytesIO(worksheet(strange, "letter"))).pages) == 2


@pytest.mark.parametrize("places", [2, 6, 12, 72])
def test_any_rotor_can_be_drawn(planned: Planned, worksheet: Print, places: int) -> None:
    bench = replace(planned.visit.bench, places=places)
    pdf = worksheet(replace(planned, visit=replace(planned.visit, bench=bench)))
    assert len([one for one in alternative_texts(pdf) if one.startswith(f"Rotor of {places} places")]) == 2
