"""Why this spin: the map with its ridge and dot, the alternatives, what was assumed and from where."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import log
from typing import Any

from plasmawright.web.answer import AssumedValue, rounded
from plasmawright.web.asked import settled_text

Document = Mapping[str, Any]

CELL_WIDE, CELL_TALL = 9.0, 4.0
SHORT_OF_BEST_FRAC = (0.01, 0.03, 0.07, 0.15, 0.3)
"""How far short of the best share each tone ends, darkest first; what lies beyond is the lightest."""


@dataclass(frozen=True, kw_only=True)
class Cell:
    """One force and time of the map; ``tone`` from 0 for the least."""

    x: float
    y: float
    tone: int


@dataclass(frozen=True, kw_only=True)
class Mark:
    """A number on an axis."""

    at: float
    words: str


@dataclass(frozen=True, kw_only=True)
class SpinMap:
    """Share of the drawn platelets by force (across) and time (up), and the same as a table."""

    frame: str
    middle: float
    tall: float
    cells: tuple[Cell, ...]
    ridge: str
    dot_x: float
    dot_y: float
    forces: tuple[Mark, ...]
    minutes: tuple[Mark, ...]
    times: tuple[str, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]
    words: str


@dataclass(frozen=True, kw_only=True)
class Other:
    """Another plan, in one line, and what choosing it settles."""

    words: str
    settled: str


@dataclass(frozen=True, kw_only=True)
class Load:
    """Where the tubes of one spin go, counted around the rotor, and the blanks that balance them."""

    spin: str
    places: str
    blanks: str


@dataclass(frozen=True, kw_only=True)
class Reasons:
    """Everything behind 'Why this spin?'."""

    spin_map: SpinMap | None
    loads: tuple[Load, ...]
    others: tuple[Other, ...]
    assumed: tuple[AssumedValue, ...]
    classes: tuple[Document, ...]
    ceiling: str


def reasons_of(answer: Document) -> Reasons:
    """Return what stands behind an answer with intervals."""
    return Reasons(
        spin_map=_map_of(answer["search"], answer["chosen"]["soft"]) if answer.get("search") else None,
        loads=(_load("Soft spin", answer["chosen"]["soft"]), _load("Hard spin", answer["chosen"]["hard"])),
        others=tuple(Other(words=plan["words"], settled=settled_text(plan)) for plan in answer["alternatives"]),
        assumed=tuple(_assumed(item) for item in answer["assumed"]),
        classes=tuple(answer.get("classes_predicted", ())),
        ceiling=answer["ceiling"].get("words", ""),
    )


def _load(name: str, spin: Document) -> Load:
    blanks = ", ".join(f"{rounded(blank['water_ml'], 0.1)} mL at {blank['place']}" for blank in spin["counterweights"])
    return Load(spin=name, places=", ".join(map(str, spin["load"])), blanks=blanks or "none")


def _assumed(item: Document) -> AssumedValue:
    return AssumedValue(
        name=item["name"].replace("_", " "),
        value=f"{item['value']:.6g}",
        spread=f"{item['spread']:.2g}" if item["spread"] else "",
        unit="" if item["unit"] == "1" else item["unit"],
        source=item["source"],
    )


def _map_of(search: Document, soft: Document) -> SpinMap:
    forces, minutes, table = search["forces"], search["minutes"], search["recovery_frac"]
    wide, tall = len(forces) * CELL_WIDE, len(minutes) * CELL_TALL
    highest = max(map(max, table))
    across = [CELL_WIDE * (place + 0.5) for place in range(len(forces))]
    up = [tall - CELL_TALL * (place + 0.5) for place in range(len(minutes))]
    best = [max(range(len(minutes)), key=row.__getitem__) for row in table]
    return SpinMap(
        frame=f"-9 -4 {wide + 11:g} {tall + 15:g}",
        middle=wide / 2,
        tall=tall,
        cells=tuple(
            Cell(x=x - CELL_WIDE / 2, y=y - CELL_TALL / 2, tone=_tone(table[i][j], highest))
            for i, x in enumerate(across)
            for j, y in enumerate(up)
        ),
        ridge="M " + " L ".join(f"{x:g} {up[j]:g}" for x, j in zip(across, best, strict=True)),
        dot_x=_along_log(forces, soft["rcf"]) * CELL_WIDE + CELL_WIDE / 2,
        dot_y=tall - CELL_TALL * (soft["minutes"] - minutes[0] + 0.5),
        forces=tuple(Mark(at=x, words=f"{force:.0f}") for x, force in zip(across, forces, strict=True)),
        minutes=tuple(Mark(at=y, words=f"{time:g}") for y, time in zip(up, minutes, strict=True) if time % 5 == 0),
        times=tuple(f"{time:g}" for time in minutes),
        rows=tuple(
            (f"{force:.0f}", tuple(f"{100 * share:.0f}" for share in row))
            for force, row in zip(forces, table, strict=True)
        ),
        words=f"You stand at {soft['rcf']:.0f} × g for {soft['minutes']:g} min.",
    )


def _tone(value: float, highest: float) -> int:
    return sum(value >= highest * (1 - short) for short in SHORT_OF_BEST_FRAC)


def _along_log(forces: list[float], force: float) -> float:
    """Return where ``force`` lies among forces that rise by an even factor, in steps from the first."""
    return (len(forces) - 1) * log(force / forces[0]) / log(forces[-1] / forces[0])
