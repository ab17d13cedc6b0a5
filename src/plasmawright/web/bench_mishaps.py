"""What a mishap's page is made of: who is concerned, by tap, and the ways on as buttons."""

from collections.abc import Mapping
from dataclasses import dataclass

from plasmawright.bench.entries import Kind
from plasmawright.bench.facts import RunFacts
from plasmawright.bench.mishaps import Mishap
from plasmawright.bench.telling import RED_FATES
from plasmawright.records.models import Run
from plasmawright.records.selectors.runs import entries, written
from plasmawright.web.bench_buttons import Button, button, entry_text, fresh_key
from plasmawright.web.bench_foreseen import foreseen_shown, red_words
from plasmawright.web.bench_ways import AWAY, Offered, offered


@dataclass(frozen=True, kw_only=True)
class Asked:
    """One number a mishap asks for; it may be left out."""

    name: str
    label: str
    unit: str
    value: str


@dataclass(frozen=True, kw_only=True)
class Way:
    """One way on: its button, what it would give, and the spin it asks for; ``away`` gives nothing to anybody."""

    button: Button
    spin: str
    dose: str
    red: str
    away: bool


NUMBERS: Mapping[str, tuple[tuple[str, str, str], ...]] = {
    "ml": (("ml", "How much is there", "mL"),),
    "minutes": (("minutes", "Minutes at speed until then", "min"),),
    "spin": (("rpm", "Speed it really had", "rpm"), ("minutes", "Minutes it really ran", "min")),
}


def telling_shown(facts: RunFacts, mishap: Mishap, typed: Mapping[str, str]) -> dict[str, object]:
    """Return what the page asks before a mishap is told: one button where nothing is asked, one a tube, or a form."""
    body = {"mishap": mishap.name}
    numbers = tuple(_asked(facts, *one, typed=typed) for ask in mishap.asks for one in NUMBERS.get(ask, ()))
    tubes = tuple(tube.number for tube in facts.usable) if "tubes" in mishap.asks else ()
    by_tube = tuple(button(facts, Kind.MISHAP, f"Tube {number}", {**body, "tubes": [number]}) for number in tubes)
    if mishap.voids:  # two tubes at least were mixed up, and nobody knows which
        by_tube = (button(facts, Kind.MISHAP, "All of them", {**body, "tubes": list(tubes)}), *by_tube)
    return {
        "mishap": mishap,
        "asked": numbers,
        "tubes": tubes,
        "by_tube": () if numbers else by_tube,
        "plain": button(facts, Kind.MISHAP, f"{mishap.title}: note it", body) if not mishap.asks else None,
        "tapped": tuple(int(number) for number in typed.get("tubes", "").split() if number.isdigit()),
        "telling": {"entry": entry_text(facts, Kind.MISHAP, body), "key": fresh_key()},
    }


def _asked(facts: RunFacts, name: str, label: str, unit: str, *, typed: Mapping[str, str]) -> Asked:
    last = facts.spun[-1] if facts.spun else None
    stands = {} if last is None or facts.began_at else {"rpm": f"{last.rpm:.0f}", "minutes": f"{last.minutes:g}"}
    return Asked(name=name, label=label, unit=unit, value=typed.get(name, stands.get(name, "")))


def choices_shown(run: Run, facts: RunFacts) -> dict[str, object]:
    """Return the ways on; each can be chosen at once, whether or not its prediction has come."""
    found, working = offered(run, facts)
    red = red_words(run)
    asks_red = any(one.choice.effect in RED_FATES for one in found)
    return {
        "ways": tuple(_way(facts, one, red) for one in found),
        "working": working or (asks_red and not red and _is_being_foreseen(run, facts)),
        "facts": facts,
    }


def _is_being_foreseen(run: Run, facts: RunFacts) -> bool:
    shown = foreseen_shown(run, facts, [written(kept) for kept in entries(run)])
    return shown is not None and shown.working


def _way(facts: RunFacts, one: Offered, red: Mapping[str, str]) -> Way:
    fate = RED_FATES.get(one.choice.effect, "")
    return Way(
        button=button(facts, Kind.CHOSEN, one.choice.words, one.body),
        spin=one.spin,
        dose="" if fate else one.dose,
        red=red.get(fate, ""),
        away=one.choice.effect in AWAY,
    )
