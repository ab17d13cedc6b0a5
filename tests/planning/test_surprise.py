"""A reading beyond what the plan thought possible is asked about, and the slip that was made is named first."""

from dataclasses import replace

import pytest
from tests.planning.runs import MARGIN_MM, run
from tests.planning.visits import a_visit

from plasmawright.parameters import sets
from plasmawright.planning.seen import Seen, foresee_on
from plasmawright.planning.seen_march import Acts, soft_run
from plasmawright.planning.seen_readings import Spun
from plasmawright.planning.surprise import Surprise
from plasmawright.planning.visit import Visit

PLANNED = run().acts


def shown_by(visit: Visit, acts: Acts) -> Seen:
    """Return what a bench would read that did something else than was planned, at the centre and without error."""
    really = soft_run(visit, sets.central(), acts, margin_mm=MARGIN_MM)
    interface_mm, drawn_ml = float(really.interface_mm[0]), float(really.shown.plasma_ml[0])
    return Seen(
        plasma_height_mm=(float(really.column_mm[0]) - interface_mm,),
        interface_mm=(interface_mm,),
        plasma_ml=(drawn_ml, drawn_ml, drawn_ml),
    )


def first(surprises: tuple[Surprise, ...]) -> str:
    return surprises[0].causes[0].name


def test_what_was_planned_is_no_surprise() -> None:
    assert not foresee_on(run(), shown_by(a_visit(), PLANNED)).surprises


@pytest.mark.parametrize(
    ("cause", "visit", "acts"),
    [
        ("spin", a_visit(), replace(PLANNED, soft=Spun(rpm=1280, minutes=2.5))),
        ("spin", a_visit(), replace(PLANNED, soft=Spun(rpm=900, minutes=6))),
        ("fill", a_visit(), replace(PLANNED, blood_ml=6.5)),
        ("tube", a_visit(tubes__collection__inner_diameter_mm=15), PLANNED),
        ("tube", a_visit(bench__tube="conical"), PLANNED),
    ],
)
def test_the_slip_that_was_made_is_named_first_and_explains_nearly_all(cause: str, visit: Visit, acts: Acts) -> None:
    found = foresee_on(run(), shown_by(visit, acts)).surprises
    assert first(found) == cause
    share = found[0].causes[0].explains_frac
    assert share is not None
    assert share > 0.9


def test_a_spin_cut_short_is_named_with_the_minutes_it_had() -> None:
    """Half of six minutes: with the ramps' half minute the work is 3.5 of 6.5."""
    seen = shown_by(a_visit(), replace(PLANNED, soft=Spun(rpm=1280, minutes=2.5)))
    assert "2.8 min, not 6.0" in foresee_on(run(), seen).surprises[0].causes[0].words


def test_a_thicker_blood_looks_like_a_shorter_spin_and_both_are_named() -> None:
    """Height alone cannot tell a haematocrit of 0.52 from a spin of half the work: both must be asked about."""
    found = foresee_on(run(), shown_by(a_visit(blood__hematocrit_frac=0.52), PLANNED)).surprises
    assert {one.name for one in found[0].causes[:2]} == {"spin", "haematocrit"}
    assert all((one.explains_frac or 0) > 0.9 for one in found[0].causes[:2])


def test_what_a_spin_that_really_was_short_shows_is_no_surprise_once_it_is_written_down() -> None:
    spun = Spun(rpm=1280, minutes=2.5)
    seen = replace(shown_by(a_visit(), replace(PLANNED, soft=spun)), soft_spin=spun)
    assert not foresee_on(run(), seen).surprises


def test_one_tube_apart_is_asked_about_by_its_number_and_its_fill() -> None:
    found = foresee_on(run(), Seen(plasma_height_mm=(42.0, 42.5, 34.0))).surprises
    assert "tube 3 shows 34.0 mm" in found[0].words
    assert {one.name for one in found[0].causes} <= {"fill", "tube", "rotor"}
    assert "fill" in {one.name for one in found[0].causes}


def test_a_surprise_moves_the_prediction_but_makes_it_no_surer_than_its_doubt() -> None:
    """A reading far outside is weighed with an error that puts it on the edge of what is possible."""
    found = foresee_on(run(), Seen(plasma_height_mm=(20.0,)))
    assert found.surprises
    before, after = found.done.prp_platelets_1e9, found.after.prp_platelets_1e9
    assert before is not None
    assert after is not None
    assert after.p50 < before.p50
    assert after.p95 - after.p05 > 0.7 * (before.p95 - before.p05)
    assert any("find its cause" in " ".join(words.split()) for words in found.words)


def test_a_product_far_too_large_is_asked_about_without_blaming_the_first_spin() -> None:
    found = foresee_on(run(), Seen(prp_ml=5.5)).surprises
    assert [one.name for one in found] == ["prp_ml"]
    assert [one.name for one in found[0].causes] == ["reading", "leave", "tubes"]
    assert found[0].causes[0].explains_frac is None


def test_a_surprise_tells_a_page_everything_it_needs() -> None:
    document = foresee_on(run(), Seen(plasma_height_mm=(20.0,))).surprises[0].as_document()
    assert set(document) == {"name", "words", "causes"}
    causes = document["causes"]
    assert isinstance(causes, list)
    assert all(set(one) == {"name", "words", "check", "explains_frac"} and one["check"] for one in causes)
