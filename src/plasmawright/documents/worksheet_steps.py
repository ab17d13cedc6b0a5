"""The steps at the bench, one action each, with what is dialled, what is loaded where, and what is written down."""

from collections.abc import Mapping
from dataclasses import dataclass

from plasmawright.documents.legible import legible
from plasmawright.documents.wording import (
    Interval,
    half_up_mm,
    heights,
    listed,
    many,
    volume_to_leave,
    volume_to_take,
    volumes_to_take,
)
from plasmawright.planning.visit import Product, Visit

NAMED_SITES_MAX, NAMED_CHARACTERS_MAX = 4, 120


@dataclass(frozen=True, kw_only=True)
class RotorLoad:
    """A rotor seen from above: which places hold tubes, which hold blanks and with how much water, in words."""

    places: int
    tubes: tuple[int, ...]
    blanks: tuple[int, ...]
    water: str
    words: str


@dataclass(frozen=True, kw_only=True)
class SumPart:
    """One part of a printed sum."""

    what: str
    ml: str


@dataclass(frozen=True, kw_only=True)
class SheetLine:
    """One line in small type; what is only predicted is set in a type of its own."""

    words: str
    predicted: bool


@dataclass(frozen=True, kw_only=True)
class SheetStep:
    """One action: its name, what counts in large type, the rest in small, and what is to be written down."""

    key: str
    title: str
    big: str
    lines: tuple[SheetLine, ...]
    spaces: tuple[str, ...]
    load: RotorLoad | None = None
    parts: tuple[SumPart, ...] = ()
    total: str = ""


def steps_of(visit: Visit, plan: Mapping[str, object]) -> tuple[SheetStep, ...]:
    """Return the steps of a plan's document in the order in which they are done."""
    return (
        _draw(visit, plan),
        _soft(visit, plan),
        _stop(plan),
        _pool(visit, plan),
        _hard(visit, plan),
        _leave(visit, plan),
        _resuspend(plan),
    )


def _table(plan: Mapping[str, object], key: str) -> Mapping[str, object]:
    found = plan[key]
    return found if isinstance(found, Mapping) else {}


def _list(table: Mapping[str, object], key: str) -> list[object]:
    found = table[key]
    return list(found) if isinstance(found, list | tuple) else []


def _number(table: Mapping[str, object], key: str) -> float:
    return float(str(table[key]))


def _do(*lines: str) -> tuple[SheetLine, ...]:
    return tuple(SheetLine(words=line, predicted=False) for line in lines)


def _expect(*lines: str) -> tuple[SheetLine, ...]:
    return tuple(SheetLine(words=line, predicted=True) for line in lines)


def _draw(visit: Visit, plan: Mapping[str, object]) -> SheetStep:
    bench, tubes = visit.bench, int(_number(plan, "tubes"))
    filled_ml = bench.blood_ml + bench.anticoagulant_ml
    return SheetStep(
        key="draw",
        title="Draw",
        big=f"{many(tubes, 'tube')} · {_number(plan, 'blood_ml'):g} mL of blood",
        lines=_do(
            f"Each: {bench.blood_ml:g} mL blood on {bench.anticoagulant_ml:g} mL anticoagulant "
            f"({bench.anticoagulant_ml:g} mL in {filled_ml:g} mL).",
            "Fill to the mark. Invert gently, at once, until mixed; do not shake.",
        ),
        spaces=("time", "filled, mL each", "initials"),
    )


def _soft(visit: Visit, plan: Mapping[str, object]) -> SheetStep:
    soft = _table(plan, "soft")
    load = _load(visit, soft)
    return SheetStep(
        key="soft",
        title="Soft spin",
        big=f"{_number(soft, 'rpm'):.0f} rpm · {_number(soft, 'minutes'):g} min · brake off",
        lines=(*_do(f"{_number(soft, 'rcf'):.0f} g at the tube's bottom.", load.words), *_look(plan)),
        spaces=("start", "stands still", "initials"),
        load=load,
    )


def _look(plan: Mapping[str, object]) -> tuple[SheetLine, ...]:
    """Return what a short spin is finished by: the minutes each sight asks for."""
    if "look" not in plan:
        return ()
    look = _table(plan, "look")
    asked = []
    for one in _list(look, "then"):
        told = one if isinstance(one, Mapping) else {}
        upto_mm, minutes = told["interface_up_to_mm"], float(str(told["add_minutes"]))
        where = "higher" if upto_mm is None else f"red up to {float(str(upto_mm)):g} mm"
        asked.append(f"{where}: add {minutes:g} min")
    seen = heights(Interval.of(look["expected_interface_mm"]))
    return _expect(f"Then look: expect the red at {seen}.") + _do(f"{'; '.join(asked).capitalize()}.")


def _stop(plan: Mapping[str, object]) -> SheetStep:
    stop = _table(plan, "stop")
    margin_mm = half_up_mm(_number(stop, "above_cells_mm"))
    plasma, interface = Interval.of(stop["expected_plasma_ml"]), Interval.of(stop["expected_interface_mm"])
    mark = stop["mark_ml"]
    graduation = () if mark is None else (f"On this graduated tube that is about the {float(str(mark)):g} mL line.",)
    return SheetStep(
        key="stop",
        title="Take the plasma",
        big=f"Stop {margin_mm:g} mm above the red you see",
        lines=_expect(
            f"Expect about {volumes_to_take(plasma)} out, a tube.",
            f"Expect the red {heights(interface)} above the inside bottom.",
            *graduation,
        )
        + _do(
            f"More still to come than {volume_to_take(plasma.p95)} mL: stop and look.",
            "What you see wins over every number here.",
            "Look first, at eye level, on white light. Tip 2-3 mm under the surface; follow it down, slow and steady.",
            "A red thread: stop, lift, never go back in.",
        ),
        spaces=("red seen, mm", "mL out, each tube", "initials"),
    )


def _pool(visit: Visit, plan: Mapping[str, object]) -> SheetStep:
    hard_tubes = int(_number(_table(plan, "hard"), "tubes"))
    plasma = Interval.of(_table(plan, "stop")["expected_plasma_ml"])
    pooled_ml = plasma.p50 * _number(plan, "tubes")
    each = f" · about {volume_to_take(pooled_ml / hard_tubes)} mL each" if hard_tubes > 1 else ""
    return SheetStep(
        key="pool",
        title="Pool",
        big=f"Into {many(hard_tubes, 'second tube')}{each}",
        lines=_expect(f"Expect about {volume_to_take(pooled_ml)} mL in all.")
        + _do(f"Split evenly. Second tube: {visit.bench.second_tube}."),
        spaces=("mL in all", "time", "initials"),
    )


def _hard(visit: Visit, plan: Mapping[str, object]) -> SheetStep:
    hard = _table(plan, "hard")
    load = _load(visit, hard)
    return SheetStep(
        key="hard",
        title="Hard spin",
        big=f"{_number(hard, 'rpm'):.0f} rpm · {_number(hard, 'minutes'):g} min",
        lines=_do(f"{_number(hard, 'rcf'):.0f} g at the tube's bottom.", load.words),
        spaces=("start", "stands still", "initials"),
        load=load,
    )


def _leave(visit: Visit, plan: Mapping[str, object]) -> SheetStep:
    leave_ml, hard_tubes = _number(plan, "leave_ml"), int(_number(_table(plan, "hard"), "tubes"))
    each = f" · about {volume_to_leave(leave_ml / hard_tubes)} mL in each" if hard_tubes > 1 else ""
    poor_ml = visit.volume_ml(Product.PPP)
    kept = f" Keep it: {poor_ml:.1f} mL of it go to sites." if poor_ml else ""
    return SheetStep(
        key="leave",
        title="Take off the platelet-poor plasma",
        big=f"Leave {volume_to_leave(leave_ml)} mL{each}",
        lines=_do(f"From the surface down; the pellet stays untouched.{kept}"),
        spaces=("PPP out, mL", "left, mL", "initials"),
        parts=_parts(visit, plan),
        total=f"{leave_ml:.2f} mL",
    )


def _parts(visit: Visit, plan: Mapping[str, object]) -> tuple[SumPart, ...]:
    """Return the parts of the leave volume; many or long names stand as one, since the table of sites names each."""
    told = [one for one in _list(plan, "leave_ml_sum") if isinstance(one, Mapping)]
    parts = [SumPart(what=str(one["what"]), ml=f"{_number(one, 'ml'):.2f}") for one in told]
    sites = len(visit.sites_for(Product.PRP))
    if sites <= NAMED_SITES_MAX and sum(len(legible(part.what)) for part in parts[:sites]) <= NAMED_CHARACTERS_MAX:
        return tuple(parts)
    together_ml = sum(_number(one, "ml") for one in told[:sites])
    return SumPart(what=f"{many(sites, 'site')}, listed overleaf", ml=f"{together_ml:.2f}"), *parts[sites:]


def _resuspend(plan: Mapping[str, object]) -> SheetStep:
    hard_tubes = int(_number(_table(plan, "hard"), "tubes"))
    together = "; bring the tubes together" if hard_tubes > 1 else ""
    return SheetStep(
        key="resuspend",
        title="Resuspend",
        big="Until no clump is seen",
        lines=_do(f"In what was left, gently, without froth{together}. Take the sample for counting, then share."),
        spaces=("mL in hand", "time", "initials"),
    )


def _load(visit: Visit, spin: Mapping[str, object]) -> RotorLoad:
    """Return how the rotor is loaded for one spin."""
    tubes = tuple(int(str(place)) for place in _list(spin, "load"))
    blanks = [one for one in _list(spin, "counterweights") if isinstance(one, Mapping)]
    at = tuple(int(_number(one, "place")) for one in blanks)
    words = f"{'Tube' if len(tubes) == 1 else 'Tubes'} in {listed([str(place) for place in tubes])}."
    water = f"{_number(blanks[0], 'water_ml'):.1f} mL" if blanks else ""
    if blanks:
        places = listed([str(place) for place in at])
        kind = "a tube of the same kind" if len(blanks) == 1 else "tubes of the same kind, each"
        words += (
            f" {'Blank' if len(blanks) == 1 else 'Blanks'} in {places}: {kind} with {water} of water "
            f"({_number(blanks[0], 'mass_g'):.1f} g)."
        )
    else:
        words += " No blank is needed."
    return RotorLoad(places=visit.bench.places, tubes=tubes, blanks=at, water=water, words=words)
