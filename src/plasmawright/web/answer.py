"""What a prediction says on the page: a few numbers with their units, the drawing, and what was assumed.

Numbers are rounded to what a hand or an eye can use: millilitres to 0.1, millimetres to 0.5.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from plasmawright.errors import Refusal, Refusals
from plasmawright.parameters.sets import drawn
from plasmawright.preparation.assumptions import Assumed
from plasmawright.preparation.prediction import predict
from plasmawright.preparation.protocol import Preparation, Stop, Withdraw
from plasmawright.preparation.reading import preparation_from
from plasmawright.web.picture import Picture, picture_of

DRAWS = 64
"""Enough for a 5 to 95 % interval read to two figures, few enough to wait for."""


@dataclass(frozen=True, kw_only=True)
class Amount:
    """A predicted quantity: the median, and the interval it lies in nine times in ten, once that is known."""

    name: str
    middle: str
    low: str
    high: str
    unit: str
    is_interval: bool


@dataclass(frozen=True, kw_only=True)
class Part:
    """One thing that a preparation leaves on the bench, with its amounts."""

    title: str
    amounts: tuple[Amount, ...]


@dataclass(frozen=True, kw_only=True)
class AssumedValue:
    """A number nobody gave, and one standard uncertainty of it; ``spread`` may be empty."""

    name: str
    value: str
    spread: str
    unit: str
    source: str


@dataclass(frozen=True, kw_only=True)
class Answer:
    """Everything the page shows of one prediction."""

    stop_words: str
    out_of_each: Amount
    picture: Picture
    parts: tuple[Part, ...]
    warnings: tuple[str, ...]
    assumed: tuple[AssumedValue, ...]


@dataclass(frozen=True, kw_only=True)
class Heading:
    """How one number of the outcome is shown: multiplied by ``times``, then rounded to a multiple of ``step``."""

    key: str
    name: str
    unit: str
    step: float
    times: float = 1.0


AFTER_FIRST_SPIN = (
    Heading(key="plasma_ml", name="plasma out of all tubes", unit="mL", step=0.1),
    Heading(key="recovery_frac", name="platelets drawn that are in it", unit="%", step=1, times=100),
    Heading(key="interface_mm", name="red cells begin, from the bottom", unit="mm", step=0.5),
)
PRODUCTS: tuple[tuple[str, str, tuple[Heading, ...]], ...] = (
    (
        "prp",
        "Platelet-rich plasma",
        (
            Heading(key="volume_ml", name="volume", unit="mL", step=0.1),
            Heading(key="platelets_1e9", name="platelets in all", unit="10⁹", step=0.1),
            Heading(key="platelets_1e9_per_l", name="platelet concentration", unit="10⁹/L", step=10),
            Heading(key="recovery_frac", name="platelets drawn that are in it", unit="%", step=1, times=100),
            Heading(key="red_cells_1e12_per_l", name="red cells", unit="10¹²/L", step=0),
            Heading(key="white_cells_1e9_per_l", name="white cells", unit="10⁹/L", step=0),
        ),
    ),
    (
        "ppp",
        "Platelet-poor plasma",
        (
            Heading(key="volume_ml", name="volume", unit="mL", step=0.1),
            Heading(key="platelets_1e9_per_l", name="platelet concentration", unit="10⁹/L", step=1),
        ),
    ),
)


def answer_to(document: Mapping[str, object]) -> Answer | tuple[Refusal, ...]:
    """Return what becomes of the preparation in ``document``, or every refusal of it."""
    try:
        return _told(preparation_from(document))
    except Refusals as refusals:
        return refusals.found
    except Refusal as refusal:
        return (refusal,)


def _told(preparation: Preparation) -> Answer:
    """Predict once and put the outcome into words."""
    outcome = predict(preparation, drawn(count=DRAWS, seed=1))
    told: dict[str, Any] = outcome.as_document()  # Any: a JSON document
    after_first_spin, products = told["after_first_spin"], told["products"]
    parts = [Part(title="After the soft spin", amounts=_amounts(after_first_spin, AFTER_FIRST_SPIN))]
    parts += [
        Part(title=title, amounts=_amounts(products[key], headings))
        for key, title, headings in PRODUCTS
        if products[key] is not None
    ]
    tubes = preparation.collection.tubes
    return Answer(
        stop_words=stop_words(preparation),
        out_of_each=amount_of(
            after_first_spin["plasma_ml"],
            Heading(key="plasma_ml", name="out of each tube", unit="mL", step=0.1, times=1 / tubes),
        ),
        picture=picture_of(preparation.tubes[preparation.collection.tube], outcome.layers),
        parts=tuple(parts),
        warnings=outcome.warnings,
        assumed=tuple(_assumed(item) for item in outcome.assumed),
    )


def _assumed(item: Assumed) -> AssumedValue:
    return AssumedValue(
        name=item.name.replace("_", " "),
        value=f"{item.value:.6g}",
        spread=f"{item.spread:.2g}" if item.spread else "",
        unit="" if item.unit == "1" else item.unit,
        source=item.source,
    )


def stop_words(preparation: Preparation) -> str:
    """Return where the first withdrawal stops, in the words of the bench."""
    withdrawal = next(step for step in preparation.steps if isinstance(step, Withdraw))
    match withdrawal.stop:
        case Stop.ABOVE_CELLS_MM:
            return f"{withdrawal.value:g} mm above the red you see"
        case Stop.WITH_BUFFY_COAT:
            return f"{withdrawal.value:g} mm below the top of the red you see"
        case Stop.VOLUME_ML:
            return f"after taking {withdrawal.value:g} mL from each tube"
    raise AssertionError


def _amounts(quantities: Mapping[str, Any], headings: tuple[Heading, ...]) -> tuple[Amount, ...]:
    return tuple(amount_of(quantities[heading.key], heading) for heading in headings)


def amount_of(told: Any, heading: Heading) -> Amount:  # Any: a number or an interval of a JSON document
    """Return a quantity as a page shows it; one number is its own interval."""
    low, middle, high = (told["p05"], told["p50"], told["p95"]) if isinstance(told, dict) else (told, told, told)
    return Amount(
        name=heading.name,
        middle=rounded(middle * heading.times, heading.step),
        low=rounded(low * heading.times, heading.step),
        high=rounded(high * heading.times, heading.step),
        unit=heading.unit,
        is_interval=isinstance(told, dict),
    )


def rounded(value: float, step: float) -> str:
    """Return ``value`` to the nearest multiple of ``step``, or to two figures for a step of 0."""
    if step == 0:
        return f"{value:.2g}" if 1e-3 <= abs(value) < 1e3 or value == 0 else f"{value:.2g}".replace("e-0", "e-")
    return f"{round(value / step) * step:,.{1 if step < 1 else 0}f}"
