"""The syringe before and after what was seen, as the bench says it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from plasmawright.bench.entries import Written
from plasmawright.bench.facts import RunFacts
from plasmawright.errors import Refusal, Refusals
from plasmawright.records.models import Run
from plasmawright.records.selectors.runs import foresight as kept_foresight
from plasmawright.web.bench_thinking import Document
from plasmawright.web.foresight import foreseen

ROWS = (
    ("prp_platelets_1e9", "platelets in all", "10⁹", "{:.1f}"),
    ("prp_platelets_1e9_per_l", "platelet concentration", "10⁹/L", "{:.0f}"),
    ("prp_red_cells_1e12_per_l", "red cells", "10¹²/L", "{:.2g}"),
)


@dataclass(frozen=True, kw_only=True)
class Row:
    """One quantity of the product as planned and after what was seen."""

    name: str
    unit: str
    before: str
    after: str


@dataclass(frozen=True, kw_only=True)
class Helped:
    """One reading in words, and whether it made the prediction surer."""

    words: str
    helped: bool


@dataclass(frozen=True, kw_only=True)
class Asked:
    """A reading the plan did not think possible, and what would explain it, as a question."""

    words: str
    causes: tuple[tuple[str, str], ...]


@dataclass(frozen=True, kw_only=True)
class Foresaid:
    """What the bench says of the syringe.

    Parameters
    ----------
    working
        A newer reading is being weighed; what stands here is of before it.
    why
        Why it could not be; empty otherwise.
    """

    working: bool
    why: str = ""
    rows: tuple[Row, ...] = ()
    helps: tuple[Helped, ...] = ()
    regime: str = ""
    asked: tuple[Asked, ...] = ()
    dose_known: bool = True


def foreseen_shown(run: Run, facts: RunFacts, told: Sequence[Written]) -> Foresaid | None:
    """Return what the bench says of the syringe; nothing while nothing has been seen."""
    if facts.ended:
        return None
    try:
        found = foreseen(run, facts, told)
    except (Refusal, Refusals) as refused:
        return Foresaid(working=False, why=str(refused))
    if found is None:
        return None
    thought = found.thought
    document = (thought.found if thought else None) or found.kept
    working = bool(thought and (thought.working or thought.found is not None))
    if document is None:
        return Foresaid(working=working, why=thought.why if thought else "")
    return _said(document, working=working, why=thought.why if thought else "")


def red_words(run: Run) -> Mapping[str, str]:
    """Return for each fate of the red tubes what it brings into the product, as last foreseen."""
    kept = kept_foresight(run)
    told = () if kept is None else kept.document["red"]
    return {one["fate"]: one["words"].replace("x 10^12", "× 10¹²") for one in told}


def _said(document: Document, *, working: bool, why: str) -> Foresaid:
    return Foresaid(
        working=working,
        why=why,
        rows=tuple(_row(document, *row) for row in ROWS),
        helps=tuple(Helped(words=one["words"], helped=one["helped"]) for one in document["observations"]),
        regime=document["regime_words"],
        asked=tuple(_asked(one) for one in document["surprises"]),
        dose_known=document["dose_known"],
    )


def _row(document: Document, key: str, name: str, unit: str, form: str) -> Row:
    return Row(
        name=name,
        unit=unit,
        before=_between(document["before"][key], form),
        after=_between(document["after"][key], form),
    )


def _between(told: Mapping[str, float] | None, form: str) -> str:
    if told is None:
        return "dose unknown"
    low, middle, high = (form.format(told[key]) for key in ("p05", "p50", "p95"))
    return f"{middle} ({low}–{high})"


def _asked(surprise: Mapping[str, Any]) -> Asked:
    causes = tuple((cause["words"], cause["check"]) for cause in surprise["causes"])
    return Asked(words=surprise["words"], causes=causes)
