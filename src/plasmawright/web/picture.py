"""The tube after the first spin, to scale: plain numbers in millimetres for the template to draw.

One unit of the drawing is one millimetre; y grows downwards from the rim, as a page has it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from plasmawright.preparation.prediction import Layers
from plasmawright.preparation.protocol import TubeKind
from plasmawright.science.tube import Bottom, Tube, height_m

RIM_MM = 4.0
"""Glass drawn above the height to which the tube is filled when full."""
LABEL_GAP_MM = 9.0
"""Smallest distance between two lines of words beside the tube."""
RULER_STEP_MM = 5
BUFFY_MM = 0.8
LEFT_MM, RIGHT_MM, ABOVE_MM, BELOW_MM = 15.0, 42.0, 4.0, 4.0
"""Room around the tube: the ruler on the left, the words on the right."""


@dataclass(frozen=True, kw_only=True)
class Band:
    """A stretch of the tube from ``top_mm`` down over ``tall_mm``."""

    top_mm: float
    tall_mm: float


@dataclass(frozen=True, kw_only=True)
class Label:
    """Words beside the tube, a leader line from what they name to where they stand; ``number`` may be empty."""

    kind: str
    words: str
    number: str
    at_mm: float
    text_mm: float


@dataclass(frozen=True, kw_only=True)
class Mark:
    """A line of a ruler or of a graduation; ``words`` is empty for the short ones."""

    at_mm: float
    words: str


@dataclass(frozen=True, kw_only=True)
class Picture:
    """Everything the drawing needs."""

    tall_mm: float
    half_bore_mm: float
    frame: str
    outline: str
    plasma: Band
    red: Band
    buffy: Band
    stop_mm: float
    stop_soft: Band
    labels: tuple[Label, ...]
    ruler: tuple[Mark, ...]
    graduations: tuple[Mark, ...]


def picture_of(kind: TubeKind, layers: Layers) -> Picture:
    """Return the drawing of one collection tube with its layers where the prediction puts them."""
    tube = tube_of(kind)
    rim_mm = 1e3 * float(height_m(tube, kind.capacity_ml * 1e-6)) + RIM_MM
    buffy_top_mm = rim_mm - layers.interface_mm - BUFFY_MM / 2
    return Picture(
        tall_mm=rim_mm,
        half_bore_mm=kind.inner_diameter_mm / 2,
        frame=_frame(kind.inner_diameter_mm, rim_mm),
        outline=_outline(kind, rim_mm),
        plasma=Band(top_mm=rim_mm - layers.filled_mm, tall_mm=layers.filled_mm - layers.interface_mm),
        red=Band(top_mm=rim_mm - layers.interface_mm, tall_mm=layers.interface_mm),
        buffy=Band(top_mm=buffy_top_mm, tall_mm=BUFFY_MM),
        stop_mm=rim_mm - layers.stop_mm,
        stop_soft=Band(top_mm=rim_mm - layers.stop_high_mm, tall_mm=layers.stop_high_mm - layers.stop_low_mm),
        labels=_labels(layers, rim_mm),
        ruler=_ruler(rim_mm),
        graduations=_graduations(kind, tube, rim_mm) if kind.graduated else (),
    )


def tube_of(kind: TubeKind) -> Tube:
    """Return the inside of a kind of tube, in SI units."""
    return Tube(
        inner_diameter_m=kind.inner_diameter_mm * 1e-3,
        bottom=Bottom(kind.bottom.value),
        cone_height_m=(kind.cone_height_mm or 0) * 1e-3,
        tip_diameter_m=(kind.tip_diameter_mm or 0) * 1e-3,
    )


def _frame(bore_mm: float, rim_mm: float) -> str:
    """Return the drawing's view box."""
    wide_mm = LEFT_MM + bore_mm + RIGHT_MM
    return f"{-LEFT_MM - bore_mm / 2:.2f} {-ABOVE_MM:.2f} {wide_mm:.2f} {rim_mm + ABOVE_MM + BELOW_MM:.2f}"


def _outline(kind: TubeKind, rim_mm: float) -> str:
    """Return the inside of the tube as path data, closed at the rim."""
    half = kind.inner_diameter_mm / 2
    start = f"M {-half:.3f} 0"
    if kind.bottom.value == Bottom.ROUND:
        shoulder = rim_mm - half
        return f"{start} V {shoulder:.3f} A {half:.3f} {half:.3f} 0 0 0 {half:.3f} {shoulder:.3f} V 0 Z"
    if kind.bottom.value == Bottom.CONICAL:
        tip, shoulder = (kind.tip_diameter_mm or 0) / 2, rim_mm - (kind.cone_height_mm or 0)
        return f"{start} V {shoulder:.3f} L {-tip:.3f} {rim_mm:.3f} H {tip:.3f} L {half:.3f} {shoulder:.3f} V 0 Z"
    return f"{start} V {rim_mm:.3f} H {half:.3f} V 0 Z"


def _labels(layers: Layers, rim_mm: float) -> tuple[Label, ...]:
    """Return the words beside the tube from top to bottom, moved apart where they would touch."""
    named = [
        ("top", "top of the column", layers.filled_mm, f"{half_mm(layers.filled_mm)} mm"),
        ("plasma", "plasma", (layers.filled_mm + layers.stop_mm) / 2, ""),
        ("stop", "stop here", layers.stop_mm, f"{half_mm(layers.stop_mm)} mm"),
        ("buffy", "buffy coat", layers.interface_mm, ""),
        ("red", "red cells begin", layers.interface_mm, f"{half_mm(layers.interface_mm)} mm"),
    ]
    named.sort(key=lambda label: -label[2])
    wanted = [rim_mm - height_mm for _, _, height_mm, _ in named]
    placed = moved_apart(wanted, gap=LABEL_GAP_MM, lowest=rim_mm)
    return tuple(
        Label(kind=kind, words=words, number=number, at_mm=at_mm, text_mm=text_mm)
        for (kind, words, _, number), at_mm, text_mm in zip(named, wanted, placed, strict=True)
    )


def moved_apart(wanted: Sequence[float], *, gap: float, lowest: float) -> list[float]:
    """Return the rising places ``wanted``, moved so that each keeps ``gap`` and none passes ``lowest``."""
    placed: list[float] = []
    for place in wanted:
        placed.append(place if not placed else max(place, placed[-1] + gap))
    limit = lowest
    for index in range(len(placed) - 1, -1, -1):
        placed[index] = min(placed[index], limit)
        limit = placed[index] - gap
    return placed


def _ruler(rim_mm: float) -> tuple[Mark, ...]:
    """Return a mark every five millimetres from the inside of the bottom, every second one numbered."""
    heights = range(0, int(rim_mm) + 1, RULER_STEP_MM)
    return tuple(
        Mark(at_mm=rim_mm - height, words=str(height) if height % (2 * RULER_STEP_MM) == 0 else "")
        for height in heights
    )


def _graduations(kind: TubeKind, tube: Tube, rim_mm: float) -> tuple[Mark, ...]:
    """Return the marks printed on a graduated tube, one a millilitre."""
    volumes_ml = range(1, int(kind.capacity_ml) + 1)
    return tuple(
        Mark(at_mm=rim_mm - 1e3 * float(height_m(tube, volume_ml * 1e-6)), words=str(volume_ml))
        for volume_ml in volumes_ml
    )


def half_mm(height_mm: float) -> str:
    """Return a height to the half millimetre, the finest an eye reads on a tube."""
    return f"{round(height_mm * 2) / 2:.1f}"
