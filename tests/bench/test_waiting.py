"""What a run waits for, as the wall says it."""

import pytest
from tests.bench.telling import at_step, tell

from plasmawright.bench.entries import Kind
from plasmawright.bench.mishaps import MISHAPS
from plasmawright.bench.steps import ENDS, ORDER, Step
from plasmawright.bench.waiting import waiting_for


@pytest.mark.parametrize("step", ORDER)
def test_every_step_waits_for_something_that_fits_a_line_on_the_wall(step: Step) -> None:
    words = waiting_for(at_step(step)[0])
    assert 0 < len(words) <= 40
    assert not words.endswith(".")


def test_a_run_that_ended_waits_for_nothing_unless_its_blood_is_still_there() -> None:
    drawn, _ = at_step(Step.LOAD)
    said = {step: waiting_for(drawn.at_step(step, drawn.since)) for step in ENDS}
    assert said == {Step.RELEASED: "", Step.DISCARDED: "", Step.STOPPED: "its disposal to be written down"}
    nothing_drawn, _ = at_step(Step.DRAW)
    assert not waiting_for(nothing_drawn.at_step(Step.STOPPED, nothing_drawn.since))
    nobodys, _ = at_step(Step.LOAD, practice=True)
    assert not waiting_for(nobodys.at_step(Step.STOPPED, nobodys.since))


def test_a_spin_waits_for_a_hand_before_it_is_started_and_for_the_rotor_after() -> None:
    facts, _ = at_step(Step.SOFT_SPIN)
    assert waiting_for(facts) == "the spin to be started"
    assert waiting_for(tell(facts, Kind.BEGAN)) == "the rotor"


def test_a_mishap_waits_for_its_choice_before_anything_else() -> None:
    facts, _ = at_step(Step.LOOK)
    assert waiting_for(tell(facts, Kind.MISHAP, mishap="hazy_interface")) == "a choice: hazy interface"
    assert MISHAPS["hazy_interface"].title == "Hazy interface"


def test_the_release_waits_for_a_second_person_unless_the_run_is_solo() -> None:
    assert waiting_for(at_step(Step.RELEASE)[0]) == "a second person to sign"
    assert waiting_for(at_step(Step.RELEASE, solo=True)[0]) == "the second read-back"
