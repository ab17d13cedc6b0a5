"""What the whole of the published experiments says of the model."""

import pytest

from plasmawright.documents.validation import render_validation, verdict_in_words
from plasmawright.quality.check_model import Verdict

pytestmark = pytest.mark.slow

# The study list's rows by what they are for (published_spins.csv, column role; 14 to score, 37 directions). Rows whose
# role is context state no setting that could be judged.
SCORED_ROWS = (
    "E001", "E021", "E026", "E027", "E029", "E039", "E053", "E064", "E100", "E117", "E131", "E134", "E136", "E137",
)  # fmt: skip
TREND_ROWS = (
    "E014", "E015", "E016", "E017", "E018", "E019", "E020", "E022", "E023", "E024", "E025", "E030", "E031", "E034",
    "E035", "E036", "E065", "E066", "E068", "E069", "E070", "E071", "E072", "E073", "E074", "E075", "E078", "E088",
    "E096", "E097", "E115", "E116", "E118", "E138", "E139", "E140", "E141",
)  # fmt: skip


def test_every_row_to_be_scored_is_a_case(verdict: Verdict) -> None:
    assert set(SCORED_ROWS) == {row for one in verdict.cases for row in one.case.rows}


def test_every_direction_is_judged_or_said_not_to_be(verdict: Verdict) -> None:
    judged = {row for one in verdict.trends for row in one.trend.rows}
    assert set(TREND_ROWS) <= judged | {one.row_id for one in verdict.not_judged}


def test_recovery_foretold_from_other_groups_misses_by_at_most_eight_points(verdict: Verdict) -> None:
    # the mark set for recovery before the model was written
    assert verdict.mae_leave_one_group_out <= 0.08


def test_the_plasma_s_share_is_within_three_points(verdict: Verdict) -> None:
    # the mark set for the plasma's share; Petrushenko and others drew 4.51 of 9.0 mL
    shares = [one for one in verdict.cases if one.case.quantity == "plasma_share_frac"]
    assert shares
    assert all(abs(one.miss) <= 0.03 for one in shares)


def test_the_intervals_cover_as_often_as_they_claim(verdict: Verdict) -> None:
    # below the band the intervals would be too narrow
    assert verdict.inside >= verdict.inside_band[0]


def test_rigid_spheres_are_far_worse(verdict: Verdict) -> None:
    # without clumping a soft spin of blood hardly settles: recovery of a few points where laboratories see 75 to 90
    assert verdict.mae_rigid_spheres > 4 * verdict.mae


def test_shipped_parameters_stand_within_a_standard_deviation_of_what_all_papers_say(verdict: Verdict) -> None:
    # they were fitted to these papers; a table edited by hand, or a changed equation, would part them
    apart = {
        row.name: (row.shipped, row.conditioned)
        for row in verdict.fitted
        if abs(row.shipped - row.conditioned) > max(row.conditioned_spread, row.shipped_spread)
    }
    assert apart == {}


def test_the_page_and_the_terminal_show_every_case_and_every_miss(verdict: Verdict) -> None:
    page, words = render_validation(verdict), verdict_in_words(verdict)
    for one in verdict.cases:
        assert one.case.id in page
        assert one.case.id in words
        if not (one.agrees and one.inside):
            assert f"- {one.case.id}: " in page
    for direction in verdict.trends:
        assert direction.trend.name in page
        assert direction.trend.name in words
