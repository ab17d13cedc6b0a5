"""Rules that hold between fields: what fits into which tube, what a rotor may do, what may follow what.

The tubes in hand are followed through the steps. What only the prediction knows is an upper bound here: how much plasma
a stop above the cells gives is left to it.
"""

import math
from dataclasses import dataclass, replace

from plasmawright.errors import Refusal
from plasmawright.preparation.protocol import (
    Place,
    Preparation,
    RemoveSupernatant,
    Resuspend,
    Rotor,
    Spin,
    Step,
    Stop,
    TubeKind,
    Withdraw,
)
from plasmawright.science.rotor import relative_force, speed_from_rpm_rad_s
from plasmawright.science.tube import Bottom, Tube, height_m

COLUMN_MM_MIN = 5.0
"""A shallower column has no layers a hand could part."""

COLUMN_OF_RADIUS_MAX = 0.9
"""The top of the column must stay clear of the axis, where there is no force at all."""

# Forces and volumes are compared with room for the last digit of a number typed by hand.
ROOM = 1 + 1e-6


@dataclass(frozen=True, kw_only=True)
class _Hand:
    """The tubes in hand; ``count`` and ``each_ml`` are ``None`` where only the prediction knows them."""

    kind: TubeKind
    name: str
    count: int | None
    each_ml: float | None
    total_ml_max: float
    spun: bool = False
    pooled: bool = False
    removed: bool = False


def refuse_nonsense(preparation: Preparation, found: list[Refusal]) -> None:
    """Note every refusal that no single field explains; fields already refused are NaN and stay unsaid."""
    before = len(found)
    hand = _first_hand(preparation, found)
    if hand is None:
        return
    withdrawn = False
    for number, step in enumerate(preparation.steps):
        after = _follow(preparation, hand, step, f"steps.{number}", found)
        if after is None:
            return
        hand = after
        withdrawn = withdrawn or isinstance(step, Withdraw)
    if not withdrawn and len(found) == before:
        limit = "one of them must withdraw plasma"
        found.append(Refusal("steps", f"{len(preparation.steps)} without", limit, 'Add a step with do = "withdraw".'))


def _first_hand(preparation: Preparation, found: list[Refusal]) -> _Hand | None:
    """Return the tubes as drawn, or ``None`` when nothing can be said of them."""
    collection = preparation.collection
    kind = _kind(preparation, "collection.tube", collection.tube, found)
    if kind is None:
        return None
    each_ml = collection.blood_ml + collection.anticoagulant_ml
    if each_ml > kind.capacity_ml * ROOM:
        found.append(
            Refusal(
                "collection.blood_ml",
                collection.blood_ml,
                f"with anticoagulant_ml it makes {each_ml:g} mL and the tube holds {kind.capacity_ml:g}",
                "Draw less into each tube, or take a larger kind.",
            )
        )
    else:
        refuse_column("collection.blood_ml", kind, preparation.rotor, each_ml, found)
    plasma_ml = collection.blood_ml * (1 - preparation.blood.hematocrit_frac) + collection.anticoagulant_ml
    in_hand_ml = (collection.tubes or math.nan) * plasma_ml  # a refused count reads 0
    return _Hand(
        kind=kind,
        name=collection.tube,
        count=collection.tubes,
        each_ml=each_ml,
        total_ml_max=in_hand_ml,
    )


def refuse_column(field: str, kind: TubeKind, rotor: Rotor, each_ml: float, found: list[Refusal]) -> None:
    """Refuse a column too shallow to part, or one that would reach the rotor's axis."""
    column_mm = _column_mm(kind, each_ml)
    radius_mm = _radius_mm(kind, rotor)
    lean = math.sin(math.radians(rotor.angle_deg))
    if column_mm < COLUMN_MM_MIN:
        limit = f"it stands {column_mm:.3g} mm high in this bore and must reach {COLUMN_MM_MIN:g} mm"
        found.append(Refusal(field, f"{each_ml:g} in all", limit, "Draw more, or take a narrower tube."))
    elif column_mm * lean > COLUMN_OF_RADIUS_MAX * radius_mm:
        limit = f"a column of {column_mm:.4g} mm would reach the axis of a rotor of {radius_mm:g} mm"
        remedy = "Check tubes.inner_diameter_mm and rotor.bottom_radius_mm; both are in mm."
        found.append(Refusal(field, f"{each_ml:g} in all", limit, remedy))


def _follow(preparation: Preparation, hand: _Hand, step: Step, path: str, found: list[Refusal]) -> _Hand | None:
    """Take one step with the tubes in hand; ``None`` when what follows can no longer be judged."""
    match step:
        case Spin():
            _refuse_force(step, hand, preparation.rotor, path, found)
            return replace(hand, spun=True)
        case Withdraw():
            return _withdraw(preparation, hand, step, path, found)
        case RemoveSupernatant():
            return _remove(hand, step, path, found)
        case Resuspend():
            if not hand.removed:
                limit = "there is no pellet freed of its supernatant yet"
                found.append(Refusal(f"{path}.do", "resuspend", limit, "Put remove_supernatant before it."))
                return None
            return replace(hand, removed=False, spun=False)


def _refuse_force(step: Spin, hand: _Hand, rotor: Rotor, path: str, found: list[Refusal]) -> None:
    """Hold the force at the tube's bottom, where it is largest, against the lower limit of rotor and tube."""
    tube_limit = math.inf if hand.kind.max_rcf is None else hand.kind.max_rcf
    limit = min(rotor.max_rcf, tube_limit)
    whose = "the rotor" if limit == rotor.max_rcf else f"a {hand.name} tube"
    key = "rcf" if step.rcf is not None else "rpm"
    given = step.rcf if step.rcf is not None else step.rpm
    force = bottom_force(step, hand.kind, rotor, hand.each_ml)
    if given is None or not force > limit * ROOM:
        return
    said = (
        f"{given:g}" if key == "rcf" and step.rcf_at is Place.BOTTOM else f"{given:g}, or {force:.5g} g at the bottom"
    )
    found.append(Refusal(f"{path}.{key}", said, f"{whose} may go to {limit:g} g", "Spin weaker and longer."))


def bottom_force(step: Spin, kind: TubeKind, rotor: Rotor, each_ml: float | None) -> float:
    """Return the relative centrifugal force at the tube's bottom; as quoted where the column's height is not known."""
    radius_mm = _radius_mm(kind, rotor)
    if step.rpm is not None:
        return relative_force(radius_m=radius_mm / 1000, speed_rad_s=speed_from_rpm_rad_s(step.rpm))
    force = math.nan if step.rcf is None else step.rcf
    risen = {Place.BOTTOM: 0.0, Place.MIDDLE: 0.5, Place.TOP: 1.0}[step.rcf_at]
    if not risen or each_ml is None:
        return force
    quoted_mm = radius_mm - risen * _column_mm(kind, each_ml) * math.sin(math.radians(rotor.angle_deg))
    return force * radius_mm / quoted_mm if quoted_mm > 0 else force


def _withdraw(preparation: Preparation, hand: _Hand, step: Withdraw, path: str, found: list[Refusal]) -> _Hand | None:
    if not hand.spun:
        limit = "nothing has settled in these tubes yet"
        found.append(Refusal(f"{path}.do", "withdraw", limit, "Put a spin of these tubes before it."))
        return None
    kind = _kind(preparation, f"{path}.pool_into", step.pool_into, found)
    if kind is None:
        return None
    if hand.each_ml is not None and not _stop_fits(step, hand, path, found):
        return None
    total_ml_max = hand.total_ml_max
    each_ml = None
    if step.stop is Stop.VOLUME_ML and hand.count:
        total_ml_max = step.value * hand.count
        fewest = _fewest(total_ml_max, kind)
        each_ml = total_ml_max / (step.pool_tubes or fewest)
        if step.pool_tubes is not None and step.pool_tubes < fewest:
            limit = f"{total_ml_max:g} mL need {fewest} {step.pool_into} tubes of {kind.capacity_ml:g} mL"
            found.append(Refusal(f"{path}.pool_tubes", step.pool_tubes, limit, f"Pool into {fewest}."))
            return None
    return _Hand(
        kind=kind,
        name=step.pool_into,
        count=step.pool_tubes,
        each_ml=each_ml,
        total_ml_max=total_ml_max,
        pooled=True,
    )


def _fewest(total_ml: float, kind: TubeKind) -> int:
    """Return how many tubes of ``kind`` hold ``total_ml``; 1 where a refused number leaves it open."""
    full = total_ml / kind.capacity_ml / ROOM
    return 1 if math.isnan(full) else max(math.ceil(full), 1)


def _stop_fits(step: Withdraw, hand: _Hand, path: str, found: list[Refusal]) -> bool:
    """Refuse a stop outside the tube: more than is in it, or above its fluid."""
    each_ml = hand.each_ml if hand.each_ml is not None else math.nan
    if step.stop is Stop.VOLUME_ML:
        most, unit = each_ml, "mL are in each tube"
        remedy = "Take less than all; value is of each tube, not of all together."
    else:
        most, unit = _column_mm(hand.kind, each_ml), "mm is the height of the whole column"
        remedy = "Stop nearer to the red cells; about 3 mm above them is usual."
    if step.value >= most:
        found.append(Refusal(f"{path}.value", step.value, f"only {most:.3g} {unit}", remedy))
        return False
    return True


def _remove(hand: _Hand, step: RemoveSupernatant, path: str, found: list[Refusal]) -> _Hand | None:
    if not (hand.pooled and hand.spun):
        limit = "there is no pellet yet" if hand.pooled else "these tubes still hold the red cells"
        remedy = "Withdraw the plasma into other tubes and spin those first."
        found.append(Refusal(f"{path}.do", "remove_supernatant", limit, remedy))
        return None
    if step.leave_ml >= hand.total_ml_max:
        limit = f"at most {hand.total_ml_max:.3g} mL can be in hand"
        found.append(Refusal(f"{path}.leave_ml", step.leave_ml, limit, "Leave less than was withdrawn."))
        return None
    return replace(hand, spun=False, removed=True, each_ml=None, total_ml_max=step.leave_ml)


def _kind(preparation: Preparation, name: str, wanted: str, found: list[Refusal]) -> TubeKind | None:
    """Return the tube kind called ``wanted``; an empty name was refused already."""
    kind = preparation.tubes.get(wanted)
    if kind is None and wanted:
        known = ", ".join(list(preparation.tubes)[:5])
        limit = "it must be a name under [tubes]"
        found.append(Refusal(name, f'"{wanted}"', limit, f"Add it, or write one of: {known}."))
    return kind


def _radius_mm(kind: TubeKind, rotor: Rotor) -> float:
    return rotor.bottom_radius_mm if kind.bottom_radius_mm is None else kind.bottom_radius_mm


def _column_mm(kind: TubeKind, each_ml: float) -> float:
    conical = kind.bottom is Bottom.CONICAL
    tube = Tube(
        inner_diameter_m=kind.inner_diameter_mm / 1000,
        bottom=kind.bottom,
        cone_height_m=(kind.cone_height_mm or 0.0) / 1000 if conical else 0.0,
        tip_diameter_m=(kind.tip_diameter_mm or 0.0) / 1000 if conical else 0.0,
    )
    return float(height_m(tube, each_ml / 1e6)) * 1000
