"""A run to look at: the example visit with settled spins, marched once for all tests."""

from functools import cache

from tests.planning.visits import a_visit

from plasmawright.parameters import sets
from plasmawright.planning.revise import Settled
from plasmawright.planning.seen import Marched, marched

MARGIN_MM = 4.0
# About 100 g and 300 g at 160 mm: the example's column of 77 mm is under-spun after the first, past its ridge after
# the last.
UNDER_SPUN = (740.0, 7.0)
AS_PLANNED = (1280.0, 6.0)
PAST_RIDGE = (1290.0, 12.0)


def settled(spin: tuple[float, float] = AS_PLANNED) -> Settled:
    """Return three tubes of blood through ``spin`` (rpm, minutes) and two second tubes through a hard one."""
    rpm, minutes = spin
    return Settled(tubes=3, soft_rpm=rpm, soft_minutes=minutes, hard_tubes=2, hard_rpm=2900, hard_minutes=10)


@cache
def run(spin: tuple[float, float] = AS_PLANNED, *, draws: int = 256) -> Marched:
    """Return the marched run of the example visit."""
    return marched(a_visit(), settled(spin), sets.drawn(count=draws, seed=1), margin_mm=MARGIN_MM)
