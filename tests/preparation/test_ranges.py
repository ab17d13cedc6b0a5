"""The one table of ranges: each has two ends, a reason and a way out."""

import math

import pytest

from plasmawright.errors import OutOfRange
from plasmawright.preparation.ranges import RANGES


@pytest.mark.parametrize("name", RANGES)
def test_every_range_has_two_ends_a_reason_and_a_way_out(name: str) -> None:
    allowed = RANGES[name]
    assert 0 <= allowed.low < allowed.high < math.inf
    assert allowed.reason.endswith(".")
    assert allowed.remedy.endswith(".")
    for end in (allowed.low, allowed.high):
        allowed.check(name, end)  # the ends themselves are allowed
    with pytest.raises(OutOfRange):
        allowed.check(name, math.nextafter(allowed.high, math.inf))
