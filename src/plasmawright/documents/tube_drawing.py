"""A tube's inside to scale: its outline and its layers as plain millimetres from the inside of the bottom."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from itertools import pairwise
from math import sqrt

from plasmawright.preparation.prediction import Layers
from plasmawright.preparation.protocol import TubeKind
from plasmawright.science.tube import Bottom, Tube, height_m

ARC_POINTS = 24
# What a paper cannot show: a shade lighter than this is left white.
SHADE_MIN = 0.02
# Layers overlap by this much, or paper shows between them.
SEAM_MM = 0.3

Point = tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class Slice:
    """A layer of the tube as a polygon, and how much of it is red cells, 0 to 1 of the fullest layer."""

    outline: tuple[Point, ...]
    shade: float


@dataclass(frozen=True, kw_only=True)
class TubeDrawing:
    """The right half of a tube; x from its axis, y up from the inside of its bottom, in millimetres."""

    outline: tuple[Point, ...]
    brim_mm: float
    half_bore_mm: float


@dataclass(frozen=True, kw_only=True)
class SpunTube:
    """A tube after the soft spin: where the model puts the cells, and where the hand stops."""

    tube: TubeDrawing
    filled_mm: float
    interface_mm: float
    interface_low_mm: float
    interface_high_mm: float
    stop_mm: float
    slices: tuple[Slice, ...]


def tube_of(kind: TubeKind) -> Tube:
    """Return the inside of a tube of this kind in SI units."""
    return Tube(
        inner_diameter_m=kind.inner_diameter_mm * 1e-3,
        bottom=Bottom(kind.bottom),
        cone_height_m=(kind.cone_height_mm or 0.0) * 1e-3,
        tip_diameter_m=(kind.tip_diameter_mm or 0.0) * 1e-3,
    )


def height_of_mm(kind: TubeKind, volume_ml: float) -> float:
    """Return how high ``volume_ml`` stands in a tube of this kind."""
    return 1e3 * float(height_m(tube_of(kind), volume_ml * 1e-6))


def tube_drawing(kind: TubeKind) -> TubeDrawing:
    """Return the outline of a tube of this kind, from the middle of its bottom to its brim."""
    brim_mm = height_of_mm(kind, kind.capacity_ml)
    shaped_mm = {"round": kind.inner_diameter_mm / 2, "conical": kind.cone_height_mm or 0.0}.get(kind.bottom, 0.0)
    shaped_mm = min(shaped_mm, brim_mm)
    points = ARC_POINTS if kind.bottom is Bottom.ROUND else 1
    # even in the square of the height, since a round bottom is flattest where it begins
    levels = [shaped_mm * (step / points) ** 2 for step in range(points + 1)]
    outline = [(0.0, 0.0), *((half_width_mm(kind, level), level) for level in levels)]
    outline.append((half_width_mm(kind, brim_mm), brim_mm))
    return TubeDrawing(outline=tuple(outline), brim_mm=brim_mm, half_bore_mm=kind.inner_diameter_mm / 2)


def half_width_mm(kind: TubeKind, level_mm: float) -> float:
    """Return half the tube's inner width at a height above the inside of its bottom."""
    bore_mm = kind.inner_diameter_mm / 2
    if kind.bottom is Bottom.ROUND and level_mm < bore_mm:
        return sqrt(max(level_mm * (2 * bore_mm - level_mm), 0.0))
    if kind.bottom is Bottom.CONICAL and kind.cone_height_mm and level_mm < kind.cone_height_mm:
        tip_mm = (kind.tip_diameter_mm or 0.0) / 2
        return tip_mm + (bore_mm - tip_mm) * level_mm / kind.cone_height_mm
    return bore_mm


def spun_tube(
    kind: TubeKind, layers: Layers | Mapping[str, object], *, margin_mm: float, low_mm: float, high_mm: float
) -> SpunTube:
    """Return a tube after the soft spin.

    Parameters
    ----------
    layers
        Of the plan, or the same as a mapping.
    margin_mm
        Of the stop above the red that is seen.
    low_mm, high_mm
        Between which the interface lies nine times in ten.
    """
    told = asdict(layers) if isinstance(layers, Layers) else layers
    filled_mm, interface_mm = float(str(told["filled_mm"])), float(str(told["interface_mm"]))
    red = told["red_frac"]
    shares = [float(share) for share in red] if isinstance(red, Sequence) else []
    return SpunTube(
        tube=tube_drawing(kind),
        filled_mm=filled_mm,
        interface_mm=interface_mm,
        interface_low_mm=low_mm,
        interface_high_mm=high_mm,
        stop_mm=interface_mm + margin_mm,
        slices=_slices(kind, shares, filled_mm),
    )


def _slices(kind: TubeKind, shares: list[float], filled_mm: float) -> tuple[Slice, ...]:
    """Return the layers from top to bottom; ``shares`` go down the column in even steps."""
    if not shares:
        return ()
    most = max(*shares, SHADE_MIN)
    faces = [filled_mm * (1 - step / len(shares)) for step in range(len(shares) + 1)]
    found = []
    for share, (top_mm, bottom_mm) in zip(shares, pairwise(faces), strict=True):
        shade = share / most
        if shade < SHADE_MIN:
            continue
        low_mm = max(bottom_mm - SEAM_MM, 0.0)
        levels = [low_mm + (top_mm - low_mm) * part / 3 for part in range(4)]
        wall = [(half_width_mm(kind, level), level) for level in levels]
        mirrored = [(-x_mm, level) for x_mm, level in reversed(wall)]
        found.append(Slice(outline=(*wall, *mirrored), shade=shade))
    return tuple(found)
