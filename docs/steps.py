"""Writes the reference page of a run's steps: order, what may follow, buttons, mishaps, entries, roles.

Called by ``docs/generate.py``, which hands in how a table is drawn.
"""

import os
from collections.abc import Callable, Iterable

from plasmawright.bench.entries import FATES, FIELDS, LIMITS, LOOKS, SIGNED_KINDS, STEP_BOUND, TUBE_EVENTS, Kind
from plasmawright.bench.mishaps import MISHAPS, Mishap
from plasmawright.bench.press import PRESSES, WORDS
from plasmawright.bench.steps import BACK, ENDS, MAY_FOLLOW, ORDER, TITLES, Step, following

Table = Callable[[Iterable[str], Iterable[Iterable[str]]], str]

# What the primary key says on steps where it changes with what has been told.
CHANGING = {
    Step.DRAW: "Count tube filled; Tube 1 filled and inverted; …",
    Step.SOFT_SPIN: "Spin started; Stands still",
    Step.WITHDRAW: "Tube 1 is off; …; Tube 4 is off: all done",
    Step.HARD_SPIN: "Spin started; Stands still",
}
MEANS = {
    Kind.BEGAN: "The timer of this step was started.",
    Kind.DONE: "The step is done.",
    Kind.TUBE: "Something happened to one tube.",
    Kind.SCANNED: "A label was read; the code is looked up on the server.",
    Kind.MEASURED: "A number was read or a look taken.",
    Kind.RED_SEEN: "A red thread came up: this tube is kept apart.",
    Kind.RED_FATE: "What becomes of that tube.",
    Kind.MISHAP: "Something went wrong.",
    Kind.CHOSEN: "The way on from it.",
    Kind.DIFFERS: "Something differs; words may follow.",
    Kind.AMENDED: "An earlier entry reads otherwise from now on.",
    Kind.REVIEWED: "Somebody looked at an entry that came late.",
    Kind.SILENCED: "A clock that rang was silenced.",
    Kind.NOTE: "A remark.",
    Kind.SIGNED: "The run was released or discarded.",
    Kind.OVERRIDDEN: "A clinician let it past a limit.",
}
ASKED = {"tubes": "which tubes", "ml": "mL", "minutes": "minutes it ran", "spin": "speed and minutes it really had"}


def steps_page(table: Table) -> str:
    """Return the page of the steps of a run, below its first line."""
    parts = [
        "# Steps, mishaps and entries of a run",
        "A run takes these steps in order. A mishap may send it back. What may follow is a table; what is not in it is "
        "refused. How to work by them: [run the bench](../how-to/run-the-bench.md).",
        "## Order",
        _diagram(),
        "## What may follow",
        table(("step", "title", "the primary key says", "next", "back to, by a mishap", "ends"), map(_step, ORDER)),
        "Where the words change with what was told, the table shows them in turn.",
        "## Mishaps",
        "Each is one tap under “Something is wrong”, offered first at the steps named and told anywhere. A way on that "
        "leads to a step which may not follow is not offered; where none is left, going on or stopping is.",
        table(("mishap", "offered first", "asks", "does at once", "ways on"), map(_mishap, MISHAPS.values())),
        "## Entries",
        "`POST /api/runs/{id}/entries` takes `kind`, `step` and `body`. Fields in bold are needed; a field not named "
        "is refused. An entry that moves a run and speaks of a step that the run has left is kept for review and "
        "moves nothing.",
        table(("kind", "says", "body holds", "moves the run"), map(_entry, Kind)),
        f"What happens to a tube (`what`) is one of {_words(TUBE_EVENTS)}; a `fate` one of {_words(FATES)}.",
        "### What can be measured",
        table(("`what`", "`value`"), [*map(_looked, LOOKS.items()), *map(_limited, LIMITS.items())]),
        "## Who may do what",
        "Whoever holds several roles may what any of them may.",
        _roles(table),
    ]
    return "\n\n".join(parts) + "\n"


def _diagram() -> str:
    """Return the order as a column: each step with the steps that a mishap sends back to it."""
    lines = []
    for number, step in enumerate(ORDER, start=1):
        sent = [ORDER.index(other) + 1 for other in ORDER if step in BACK.get(other, ())]
        back = f"  <- {_spans(sent)}" if sent else ""
        lines += [f"    {number:>2}  {step.value:<10}{back}".rstrip(), "     |"]
    lines[-1] = "     +-> released"
    for end in (Step.DISCARDED, Step.STOPPED):
        sent = [ORDER.index(step) + 1 for step in ORDER if end in MAY_FOLLOW[step]]
        lines.append(f"     from {_spans(sent)}: {end.value}")
    return "\n".join(lines)


def _spans(numbers: Iterable[int]) -> str:
    """Return whole numbers with neighbours drawn together: 2-4, 7."""
    found: list[list[int]] = []
    for number in numbers:
        if found and found[-1][-1] == number - 1:
            found[-1].append(number)
        else:
            found.append([number])
    return ", ".join(str(span[0]) if len(span) == 1 else f"{span[0]}-{span[-1]}" for span in found)


def _step(step: Step) -> list[str]:
    changing = PRESSES.keys() - WORDS.keys()
    says = CHANGING[step] if step in changing else WORDS.get(step, "none: it is signed")
    back = [TITLES[one] for one in ORDER if one in BACK.get(step, ())]
    ends = [one.value for one in Step if one in ENDS and one in MAY_FOLLOW[step] and one is not following(step)]
    return [f"`{step.value}`", TITLES[step], says, TITLES[following(step)], ", ".join(back), ", ".join(ends)]


def _mishap(mishap: Mishap) -> list[str]:
    does = [
        words
        for holds, words in (
            (mishap.voids, "voids the tubes named, all where none is; no override"),
            (mishap.loses_tubes and not mishap.voids, "takes the tubes named out of the run"),
            (mishap.breaks_spin, "ends the spin that runs"),
            (mishap.withdraws_dose, "dose unknown"),
        )
        if holds
    ]
    ways = "; ".join(choice.words for choice in mishap.choices)
    asks = ", ".join(ASKED[one] for one in mishap.asks)
    return [f"**{mishap.title}**", _where(mishap.steps), asks, ", ".join(does), ways]


def _where(steps: frozenset[Step]) -> str:
    spans: list[list[Step]] = []
    for step in (step for step in ORDER if step in steps):
        if spans and following(spans[-1][-1]) is step:
            spans[-1].append(step)
        else:
            spans.append([step])
    named = [[TITLES[span[0]], TITLES[span[-1]]] for span in spans]
    return ", ".join(first if first == last else f"{first} to {last}" for first, last in named)


def _entry(kind: Kind) -> list[str]:
    holds = ", ".join(f"**`{name}`**" if field.needed else f"`{name}`" for name, field in FIELDS[kind].items())
    moves = "only by signing" if kind in SIGNED_KINDS else "yes" if kind in STEP_BOUND else ""
    return [f"`{kind.value}`", MEANS[kind], holds or "nothing", moves]


def _looked(look: tuple[str, tuple[str, ...]]) -> list[str]:
    return [f"`{look[0]}`", _words(look[1])]


def _words(words: Iterable[str]) -> str:
    return ", ".join(f"`{word}`" for word in words)


def _limited(limit: tuple[str, tuple[float, float]]) -> list[str]:
    low, high = limit[1]
    return [f"`{limit[0]}`", f"{low:g} to {high:g}"]


def _roles(table: Table) -> str:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "plasmawright.config.settings")
    import django

    django.setup()
    from plasmawright.records.models import Role
    from plasmawright.records.permissions import IN_WORDS, MAY

    lines = [[IN_WORDS[action], *("yes" if role in MAY[action] else "" for role in Role)] for action in MAY]
    return table(("they may", *(role.value for role in Role)), lines)
