"""Which clocks run at a step."""

from dataclasses import replace

from tests.bench.telling import POLICY, at_step

from plasmawright.bench.clocks import clocks_of
from plasmawright.bench.steps import Step


def test_tubes_that_need_not_stand_have_no_clock_that_could_ring() -> None:
    at_once, _ = at_step(Step.STAND)
    waiting, _ = at_step(Step.STAND, policy=replace(POLICY, stand_min=30.0))
    assert [clock.name for clock in clocks_of(at_once)] == ["hold"]
    assert [clock.name for clock in clocks_of(waiting)] == ["stand", "hold"]
