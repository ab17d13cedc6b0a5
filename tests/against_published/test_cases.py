"""Each published number against the median predicted for it, within the tolerance written down with the case."""

import pytest

from plasmawright.parameters.papers import documents
from plasmawright.quality.check_model import Verdict
from plasmawright.quality.published import Case, cases_from

pytestmark = pytest.mark.slow

CASES = cases_from(documents())

# What the model does not reach, and why we believe so. The list must stay true both ways.
MISSES = {
    "E064-recovery": "86 to 99 % over both spins leaves nothing to lose in handling or with the cells; we lose both",
    "E064-fold": "the same number once more, divided by the volume kept",
    "E100-recovery": "a bag is no upright cylinder, and we over-spin it: a third of them stay below",
}


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.id)
def test_the_median_stands_within_the_tolerance_of_its_case_or_is_a_known_miss(case: Case, verdict: Verdict) -> None:
    found = next(one for one in verdict.cases if one.case.id == case.id)
    told = f"published {case.published}, predicted {found.p50:.3f}, tolerance {case.agree_within} ({case.why})"
    if case.id in MISSES:
        assert not found.agrees, f"{told}: it agrees now; take it off the list of misses"
    else:
        assert found.agrees, told


def test_every_known_miss_is_a_case() -> None:
    assert set(MISSES) <= {case.id for case in CASES}
