"""What each step shows: what to do, the one number, and what is expected."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from plasmawright.bench.facts import RunFacts, planned_minutes, planned_rpm
from plasmawright.bench.press import next_tube
from plasmawright.bench.steps import TITLES, Step


@dataclass(frozen=True, kw_only=True)
class Card:
    """What one step shows.

    Parameters
    ----------
    number, unit
        The one number, very large, and its unit beside it; empty where words do it all.
    expect
        What is only predicted, in a type of its own; empty where nothing is.
    lines
        What else to do or mind, short and one action each.
    """

    title: str
    do: str
    number: str = ""
    unit: str = ""
    expect: str = ""
    lines: tuple[str, ...] = ()


def card_of(facts: RunFacts) -> Card:
    """Return what the step of ``facts`` shows."""
    return CARDS[facts.step](facts)


def half_mm(value: float) -> str:
    """Return a height to half a millimetre, away from the cells."""
    return f"{int(value * 2 + 0.999) / 2:g}"


def between(interval: Mapping[str, float]) -> str:
    """Return a predicted volume to a tenth of a millilitre with its interval."""
    return f"{interval['p50']:.1f} mL ({interval['p05']:.1f}-{interval['p95']:.1f})"


def listed(numbers: Sequence[int]) -> str:
    """Return places as they are read aloud."""
    return " · ".join(str(number) for number in numbers)


def _card(facts: RunFacts, do: str, **more: Any) -> Card:
    return Card(title=TITLES[facts.step], do=do, **more)


def _identify(facts: RunFacts) -> Card:
    return _card(
        facts,
        "Ask for the name and one more identifier; compare both with this page.",
        number="2",
        unit="identifiers",
        lines=("Let the patient say them. A room or a chair is no identifier.",),
    )


def _draw(facts: RunFacts) -> Card:
    each_ml = facts.opening.plan["blood_ml"] / facts.opening.tubes
    number = next_tube(facts)
    filled = sum(tube.filled_at is not None for tube in facts.tubes)
    if facts.opening.policy.count_tube_ml > 0 and not facts.counted:
        total_ml = facts.opening.plan["blood_ml"] + facts.opening.policy.count_tube_ml
        return _card(
            facts,
            "Fill the count tube first, in the same stick.",
            number=f"{facts.opening.policy.count_tube_ml:g}",
            unit="mL",
            lines=(
                "Invert it gently. It goes to the counter, never back to the patient.",
                f"{total_ml:g} mL in all, this tube included.",
            ),
        )
    return _card(
        facts,
        f"Fill tube {number} to the mark and invert it gently at once." if number else "Every tube is filled.",
        number=f"{each_ml:g}",
        unit="mL",
        lines=(f"{filled} of {len([t for t in facts.tubes if not t.failed and not t.lost])} filled.",),
    )


def _label(facts: RunFacts) -> Card:
    return _card(
        facts,
        "Label every tube here, beside the patient.",
        number=str(len(facts.usable)),
        unit="tubes",
        lines=("After filling, never before. Leave a clear strip: no label over the plasma's edge.",),
    )


def _clots(facts: RunFacts) -> Card:
    return _card(facts, "Tilt each tube slowly and look for clots.", lines=("A clot: tap “Something is wrong”.",))


def _stand(facts: RunFacts) -> Card:
    return _card(facts, "Let the tubes stand upright.", number=f"{facts.opening.policy.stand_min:g}", unit="min")


def _stoppers(facts: RunFacts) -> Card:
    return _card(
        facts,
        "Clean every stopper and let it dry.",
        lines=("Contact and drying time: as its label says. Alcohol burns: no flame, no spark.",),
    )


def _spin_of(facts: RunFacts, which: str) -> Mapping[str, Any]:
    found: Mapping[str, Any] = facts.opening.plan[which]
    return found


def _loading(facts: RunFacts, which: str, do: str) -> Card:
    spin = _spin_of(facts, which)
    planned = facts.opening.tubes if which == "soft" else int(spin["tubes"])
    there = len(facts.usable) if which == "soft" else planned
    blanks = spin["counterweights"]
    lines = [
        f"Blank in {blank['place']}: a tube of the same kind with {blank['water_ml']:.1f} mL of water "
        f"({blank['mass_g']:.1f} g)."
        for blank in blanks
    ] or ["No blank is needed."]
    if there != planned:
        lines = [f"{there} tubes are left of {planned}: weigh, and put a blank of equal mass where one is missing."]
    return _card(facts, do, number=listed(spin["load"][:there]), unit="places", lines=tuple(lines))


def _load(facts: RunFacts) -> Card:
    return _loading(facts, "soft", "Load the tubes into these places.")


def _rebalance(facts: RunFacts) -> Card:
    return _loading(facts, "hard", "Balance the second tubes against each other and load them.")


def _spin(facts: RunFacts) -> Card:
    spin = _spin_of(facts, "soft" if facts.step is Step.SOFT_SPIN else "hard")
    soft = facts.step is Step.SOFT_SPIN
    minutes = planned_minutes(facts)
    do = "Wait until the rotor stands." if facts.began_at else "Set the centrifuge and start it."
    lines = [f"{minutes:g} min at speed", f"{spin['rcf']:.0f} g at the tube's bottom"]
    return _card(
        facts,
        do,
        number=f"{planned_rpm(facts):.0f}",
        unit="rpm",
        lines=("Brake off", *lines) if soft else tuple(lines),
    )


def _look(facts: RunFacts) -> Card:
    seen = facts.opening.plan["stop"]["expected_interface_mm"]
    return _card(
        facts,
        "Lift one tube to eye level. Is the edge sharp, the plasma clear?",
        expect=f"expect the red at {half_mm(seen['p50'])} mm ({half_mm(seen['p05'])}-{half_mm(seen['p95'])})",
        lines=(
            "Pink, milky or hazy: tap what you see. Measure the red with the rack card if you can.",
            *_minutes_by_sight(facts),
        ),
    )


def _minutes_by_sight(facts: RunFacts) -> tuple[str, ...]:
    """Return, for a plan of looking half-way, the minutes each height asks for; nothing at the second look."""
    look = facts.opening.plan.get("look")
    if look is None or len(facts.spun) != 1:
        return ()
    asked = []
    for one in look["then"]:
        upto_mm = one["interface_up_to_mm"]
        where = "higher" if upto_mm is None else f"up to {upto_mm:g} mm"
        asked.append(f"{where}: {one['add_minutes']:g} min more")
    return (f"Half-way: enter the red's height. {'; '.join(asked).capitalize()}.",)


def _withdraw(facts: RunFacts) -> Card:
    stop, number = facts.opening.plan["stop"], next_tube(facts)
    return _card(
        facts,
        f"Tube {number}: stop above the red you see." if number else "Every tube is off.",
        number=half_mm(stop["above_cells_mm"]),
        unit="mm above the red you see",
        expect=f"expect about {between(stop['expected_plasma_ml'])} out",
        lines=(
            "Tip 2-3 mm under the surface; follow it down, slow and steady.",
            "A red thread: stop, lift, never go back in.",
        ),
    )


def _pool(facts: RunFacts) -> Card:
    tubes = int(facts.opening.plan["hard"]["tubes"])
    each = facts.opening.plan["stop"]["expected_plasma_ml"]["p50"] * len(facts.usable) / tubes
    red = [tube.number for tube in facts.usable if tube.red and tube.red_fate in {None, "left_out"}]
    lines: tuple[str, ...] = ("Split evenly.",)
    if red:
        lines = (f"Tube {listed(red)} drew red and is left out.", *lines)
    return _card(
        facts,
        "Pool the plasma.",
        number=str(tubes),
        unit="second tube" if tubes == 1 else "second tubes",
        expect=f"expect about {each:.1f} mL in each",
        lines=lines,
    )


def _take_off(facts: RunFacts) -> Card:
    tubes = int(facts.opening.plan["hard"]["tubes"])
    leave_ml = float(facts.opening.plan["leave_ml"])
    each = f", {leave_ml / tubes:.1f} mL in each" if tubes > 1 else ""
    return _card(
        facts,
        f"Take off plasma from the surface down; leave this over the pellet{each}.",
        number=f"{leave_ml:.1f}",
        unit="mL",
        lines=("Keep the plasma, labelled, until release.",),
    )


def _rest(facts: RunFacts) -> Card:
    return _card(facts, "Let the pellet rest.", number=f"{facts.opening.policy.rest_min:g}", unit="min")


def _resuspend(facts: RunFacts) -> Card:
    together = int(facts.opening.plan["hard"]["tubes"]) > 1
    return _card(
        facts,
        "Suspend the pellet gently in what was left" + ("; bring the tubes together." if together else "."),
        number=f"{float(facts.opening.plan['leave_ml']):.1f}",
        unit="mL",
        lines=("No froth. Until no clump is seen.",),
    )


def _swirl(facts: RunFacts) -> Card:
    return _card(
        facts,
        "Hold it against the light and turn it.",
        lines=("A silky swirl, no specks. Clumps that will not go: tap “clumps”.",),
    )


def _part_ml(facts: RunFacts, what: str) -> float:
    return sum(float(part["ml"]) for part in facts.opening.plan["leave_ml_sum"] if part["what"].startswith(what))


def _sample(facts: RunFacts) -> Card:
    return _card(
        facts,
        "Take the sample for counting, or go on without.",
        number=f"{_part_ml(facts, 'sample'):.1f}",
        unit="mL",
        lines=("Well mixed, labelled, counted within the hour.",),
    )


def _fill(facts: RunFacts) -> Card:
    sites = facts.opening.plan["sites"]
    total_ml = sum(site["volume_ml"] for site in sites if site["product"] == "prp")
    lines = tuple(f"{_site(site)}: {site['volume_ml']:.1f} mL {site['product'].upper()}" for site in sites)
    return _card(
        facts,
        "Fill the syringes and label each.",
        number=f"{total_ml:.1f}",
        unit="mL PRP",
        lines=lines,
    )


def _site(site: Mapping[str, Any]) -> str:
    return str(site["name"]) if site["side"] == "none" else f"{site['name']} ({site['side']})"


def _activation(facts: RunFacts) -> Card:
    return _card(
        facts,
        "Was anything added to activate it?",
        lines=("The clinic's choice. What is entered here stands on the record and the label.",),
    )


def _in_hand(facts: RunFacts) -> str:
    found = facts.measured.get("prp_ml")
    return f"{found:.1f}" if found is not None else f"{_part_of_sites(facts):.1f}"


def _part_of_sites(facts: RunFacts) -> float:
    return float(sum(site["volume_ml"] for site in facts.opening.plan["sites"] if site["product"] == "prp"))


def _check(facts: RunFacts) -> Card:
    return _card(
        facts,
        "Read the label, the volume and the time left aloud from the syringe.",
        number=_in_hand(facts),
        unit="mL in hand",
        lines=("The other person listens and compares with this page.",) if not facts.opening.solo else (),
    )


def _release(facts: RunFacts) -> Card:
    who = "The same person reads everything again." if facts.opening.solo else "A second person signs with a PIN."
    return _card(facts, who, number=_in_hand(facts), unit="mL in hand")


def _ended(facts: RunFacts) -> Card:
    return _card(facts, "This run has ended.")


CARDS: Mapping[Step, Callable[[RunFacts], Card]] = {
    Step.IDENTIFY: _identify,
    Step.DRAW: _draw,
    Step.LABEL: _label,
    Step.CLOTS: _clots,
    Step.STAND: _stand,
    Step.STOPPERS: _stoppers,
    Step.LOAD: _load,
    Step.SOFT_SPIN: _spin,
    Step.LOOK: _look,
    Step.WITHDRAW: _withdraw,
    Step.POOL: _pool,
    Step.REBALANCE: _rebalance,
    Step.HARD_SPIN: _spin,
    Step.TAKE_OFF: _take_off,
    Step.REST: _rest,
    Step.RESUSPEND: _resuspend,
    Step.SWIRL: _swirl,
    Step.SAMPLE: _sample,
    Step.FILL: _fill,
    Step.ACTIVATION: _activation,
    Step.CHECK: _check,
    Step.RELEASE: _release,
    Step.RELEASED: _ended,
    Step.DISCARDED: _ended,
    Step.STOPPED: _ended,
}
"""What each step shows."""
