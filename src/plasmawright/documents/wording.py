"""Predicted numbers as a hand can use them: mL to a tenth, mm to a half, rounded away from the cells."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil, floor

# Keeps 4.9 from becoming 4.8 or 5.0 by the last bit of a float.
ROUNDING = 1e-6


@dataclass(frozen=True, kw_only=True)
class Interval:
    """A predicted number with the interval it lies in nine times in ten; all three are one where nothing was drawn."""

    p05: float
    p50: float
    p95: float

    @classmethod
    def of(cls, told: object) -> "Interval":
        """Return what a plan's document tells: a number, or its three quantiles."""
        if isinstance(told, Mapping):
            return cls(p05=float(told["p05"]), p50=float(told["p50"]), p95=float(told["p95"]))
        middle = float(str(told))
        return cls(p05=middle, p50=middle, p95=middle)

    def moved(self, by: float) -> "Interval":
        """Return the interval moved as a whole."""
        return Interval(p05=self.p05 + by, p50=self.p50 + by, p95=self.p95 + by)


def volume_to_take(volume_ml: float) -> str:
    """Return a volume that may be taken, rounded down: never a suggestion to take more."""
    return f"{floor(volume_ml * 10 + ROUNDING) / 10:.1f}"


def volume_to_leave(volume_ml: float) -> str:
    """Return a volume that stays over the cells, rounded up."""
    return f"{ceil(volume_ml * 10 - ROUNDING) / 10:.1f}"


def half_up_mm(height_mm: float) -> float:
    """Return a height to the next half millimetre away from the cells."""
    return ceil(height_mm * 2 - ROUNDING) / 2


def height(height_mm: float) -> str:
    """Return a height above the inside of the bottom in words, rounded away from the cells."""
    return f"{half_up_mm(height_mm):g}"


def count(number: float) -> str:
    """Return a predicted number of platelets, in billions or per litre, with no digit that means nothing."""
    if abs(number) < 1:
        return f"{abs(number):.2f}"
    if number < 10:
        return f"{number:.1f}"
    return f"{number:.0f}" if number < 100 else f"{round(number, -1):.0f}"


def volumes_to_take(interval: Interval) -> str:
    """Return `4.9 mL (4.5 to 5.2)`."""
    return (
        f"{volume_to_take(interval.p50)} mL ({volume_to_take(interval.p05)} to {volume_to_take(interval.p95)})"
        if interval.p05 < interval.p95
        else f"{volume_to_take(interval.p50)} mL"
    )


def heights(interval: Interval) -> str:
    """Return `35.5 mm (33 to 38.5)`."""
    return (
        f"{height(interval.p50)} mm ({height(interval.p05)} to {height(interval.p95)})"
        if interval.p05 < interval.p95
        else f"{height(interval.p50)} mm"
    )


def counts(interval: Interval, unit: str) -> str:
    """Return `3.6 billion (2.9 to 4.4)`."""
    return (
        f"{count(interval.p50)} {unit} ({count(interval.p05)} to {count(interval.p95)})"
        if interval.p05 < interval.p95
        else f"{count(interval.p50)} {unit}"
    )


def listed(words: list[str]) -> str:
    """Return `1, 3 and 5`."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def many(number: int, one: str) -> str:
    """Return `1 tube`, `3 tubes`."""
    return f"{number} {one}" if number == 1 else f"{number} {one}s"
