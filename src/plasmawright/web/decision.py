"""What the Plan page shows of an answer: the one decision, the few numbers that matter, and what each site gets."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import floor
from typing import Any

from plasmawright.planning.visit import Site, Visit, WhiteCells
from plasmawright.web.answer import Amount, Heading, amount_of, rounded
from plasmawright.web.asked import settled_text
from plasmawright.web.kept_layers import layers_of
from plasmawright.web.picture import Picture, picture_of

Document = Mapping[str, Any]

PLASMA = Heading(key="expected_plasma_ml", name="out of each tube", unit="mL", step=0.1)
INTERFACE = Heading(key="expected_interface_mm", name="red begins", unit="mm", step=0.5)
PLATELETS = Heading(key="platelets_1e9", name="platelets", unit="10⁹", step=0.1)
PRODUCT = (
    Heading(key="prp_platelets_1e9_per_l", name="platelets of the PRP", unit="10⁹/L", step=10),
    Heading(key="fold", name="times the blood's count", unit="×", step=0.1),
    Heading(key="recovery_frac", name="platelets drawn that are in it", unit="%", step=1, times=100),
    Heading(key="prp_red_cells_1e12_per_l", name="red cells of the PRP", unit="10¹²/L", step=0),
    Heading(key="ppp_platelets_1e9_per_l", name="platelets of the PPP", unit="10⁹/L", step=1),
)
BAR_ROOM = 1.08
"""How far past the largest number the scale of the bars goes."""
BAR_WISHES = 2.0
"""How many times the largest wish the scale shows at least, so that it stands still while a stop is moved."""


@dataclass(frozen=True, kw_only=True)
class Bar:
    """Where an interval, its middle and the wish stand on the scale, in per cent of its width; some may be missing."""

    low: float | None
    wide: float | None
    middle: float
    wish: float | None


@dataclass(frozen=True, kw_only=True)
class Dose:
    """What one site gets; ``bar`` where platelets were wished, ``chance`` in words where it is known."""

    site: Site
    amount: Amount
    bar: Bar | None
    chance: str


@dataclass(frozen=True, kw_only=True)
class Told:
    """What is to be done, in numbers a hand dials: not predicted but chosen."""

    name: str
    value: str
    unit: str
    more: str


@dataclass(frozen=True, kw_only=True)
class Look:
    """What to do after a part of the spin: how high the red stands, and the minutes to add."""

    seen: str
    minutes: str


@dataclass(frozen=True, kw_only=True)
class Stop:
    """The stop as a slider knows it, in mm above the cells; ``red_y`` is where the cells begin in the drawing."""

    mm: str
    max_mm: float
    words: str
    red_y: float


@dataclass(frozen=True, kw_only=True)
class Decision:
    """Everything of an answer that stands in the first view."""

    settled: str
    stop: Stop
    plasma: Amount
    interface: Amount
    mark_ml: str
    picture: Picture
    told: tuple[Told, ...]
    looks: tuple[Look, ...]
    doses: tuple[Dose, ...]
    cells: tuple[str, ...]
    product: tuple[Amount, ...]
    binding: str
    chance: str
    with_intervals: bool


def decision_of(visit: Visit, answer: Document) -> Decision:
    """Return what is shown of an answer, with intervals or without."""
    plan, layers = answer["chosen"], layers_of(visit, answer)
    picture = picture_of(visit.tubes[visit.bench.tube], layers)
    stop, with_intervals = plan["stop"], isinstance(plan["fold"], dict)
    margin_mm = stop["above_cells_mm"]
    mark_ml = stop["mark_ml"]
    return Decision(
        settled=settled_text(plan),
        stop=Stop(
            mm=f"{margin_mm:g}",
            max_mm=floor(2 * (layers.filled_mm - layers.interface_mm)) / 2,
            words=f"{margin_mm:g} mm above the red you see",
            red_y=picture.red.top_mm,
        ),
        plasma=amount_of(stop[PLASMA.key], PLASMA),
        interface=amount_of(stop[INTERFACE.key], INTERFACE),
        mark_ml="" if mark_ml is None else f"{mark_ml:g}",
        picture=picture,
        told=_told(plan),
        looks=_looks(plan),
        doses=_doses(visit, plan, with_intervals=with_intervals),
        cells=_cells(visit, plan, with_intervals=with_intervals),
        product=tuple(amount_of(plan[heading.key], heading) for heading in PRODUCT),
        binding=plan["binding"] if with_intervals else "",
        chance=in_hundred(plan["chance_all_met"]) if with_intervals else "",
        with_intervals=with_intervals,
    )


def in_hundred(chance: float) -> str:
    """Return a chance as people count: never quite none, never quite all."""
    return f"{min(max(round(100 * chance), 1), 99)} times in 100"


def _told(plan: Document) -> tuple[Told, ...]:
    tubes, soft, hard = plan["tubes"], plan["soft"], plan["hard"]
    return (
        Told(
            name="Draw",
            value=f"{tubes}",
            unit="tube" if tubes == 1 else "tubes",
            more=f"{plan['blood_ml']:g} mL of blood",
        ),
        _spin("Soft spin", soft, ""),
        _spin("Hard spin", hard, f", {hard['tubes']} {'tube' if hard['tubes'] == 1 else 'tubes'}"),
        Told(name="Leave", value=rounded(plan["leave_ml"], 0.1), unit="mL", more="over all second tubes"),
    )


def _spin(name: str, spin: Document, tubes: str) -> Told:
    return Told(
        name=name,
        value=f"{spin['rpm']:,.0f}",
        unit=f"rpm, {spin['minutes']:g} min",
        more=f"{spin['rcf']:,.0f} × g{tubes}",
    )


def _looks(plan: Document) -> tuple[Look, ...]:
    """Return the rows of 'look, then finish', neighbours that say the same made one."""
    rows: list[Look] = []
    for row in plan.get("look", {}).get("then", []):
        upto = row["interface_up_to_mm"]
        seen = "higher" if upto is None else f"up to {upto:g} mm"
        minutes = f"{row['add_minutes']:g}"
        if rows and rows[-1].minutes == minutes:
            rows.pop()
        rows.append(Look(seen=seen, minutes=minutes))
    return tuple(rows)


def _doses(visit: Visit, plan: Document, *, with_intervals: bool) -> tuple[Dose, ...]:
    wishes = {site.id: site for site in visit.sites}
    pairs = [(wishes[told["id"]], told) for told in plan["sites"]]
    largest = max(
        [BAR_WISHES * (site.platelets_1e9 or 0.0) for site, _ in pairs]
        + [BAR_ROOM * _high(told["platelets_1e9"]) for site, told in pairs if site.platelets_1e9 is not None]
    )
    return tuple(
        Dose(
            site=site,
            amount=amount_of(told["platelets_1e9"], PLATELETS),
            bar=None if site.platelets_1e9 is None else _bar(told["platelets_1e9"], site.platelets_1e9, largest),
            chance=_chance(told["chance_met"], with_intervals=with_intervals),
        )
        for site, told in pairs
    )


def _chance(chance: float | None, *, with_intervals: bool) -> str:
    """Return how often a wish is met; with a single draw that is not known yet."""
    if chance is None:
        return ""
    return in_hundred(chance) if with_intervals else "···"


def _high(told: Any) -> float:  # Any: a number or an interval of a JSON document
    return float(told["p95"] if isinstance(told, dict) else told)


def _bar(told: Any, wish: float, largest: float) -> Bar:  # Any: a number or an interval of a JSON document
    def at(value: float) -> float:
        return round(100 * value / largest, 2)

    if isinstance(told, dict):
        low = at(told["p05"])
        return Bar(low=low, wide=round(at(told["p95"]) - low, 2), middle=at(told["p50"]), wish=at(wish))
    return Bar(low=None, wide=None, middle=at(told), wish=at(wish))


def _cells(visit: Visit, plan: Document, *, with_intervals: bool) -> tuple[str, ...]:
    """Return how likely the wishes for the other cells are met: an order of magnitude, so in words."""
    limit, found = visit.limits.red_cells_1e12_per_l, []
    red, white = (plan[key] if with_intervals else "···" for key in ("red_cells", "white_cells"))
    if limit is not None:
        found.append(f"Red cells at most {limit:g} × 10¹²/L: {red}.")
    if visit.limits.white_cells is not WhiteCells.ANY:
        found.append(f"White cells {visit.limits.white_cells}: {white}.")
    return tuple(found)
