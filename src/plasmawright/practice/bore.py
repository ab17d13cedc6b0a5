"""A tube's bore by water and ruler: the mass of water between two heights of the straight part.

A scale shows about 0.1 % too little in air, which narrows the bore by 0.05 %; the ruler is worse by far, so it is left.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import mean, stdev

from plasmawright.errors import Refusal, Refusals
from plasmawright.parameters.table import rule
from plasmawright.practice.guards import refuse_outside
from plasmawright.practice.statements import Caution, Status, cited

TUBES_MAX = 3
LEVELS_APART_MIN_MM = 10.0
"""A ruler read to a quarter of a millimetre at both ends then leaves the bore within 2 %."""
TEMPERATURE_REMEDY = "Let the water stand in the room, then measure it in degrees Celsius."
HEIGHT_REMEDY = "Measure from the inside of the bottom to the water's level, in mm, at eye level."
MASS_REMEDY = "Set the scale to zero with the empty tube on it, and write what it shows in g."


@dataclass(frozen=True, kw_only=True)
class Levels:
    """Two levels of water in one tube: height above the inside of the bottom, and all the water in it by then."""

    lower_mm: float
    lower_g: float
    upper_mm: float
    upper_g: float

    @property
    def words(self) -> str:
        """Return the readings as they were read."""
        return f"{self.lower_g:g} g at {self.lower_mm:g} mm, {self.upper_g:g} g at {self.upper_mm:g} mm"


@dataclass(frozen=True, kw_only=True)
class Bore:
    """The bore of one kind of tube, in mm.

    Parameters
    ----------
    uncertainty_mm
        One standard uncertainty of ``inner_diameter_mm``.
    each_mm
        The bore of every tube measured.
    differ_mm
        The widest less the narrowest of them; 0 for one tube.
    """

    inner_diameter_mm: float
    uncertainty_mm: float
    each_mm: tuple[float, ...]
    water_kg_m3: float
    source: str

    @property
    def differ_mm(self) -> float:
        """Return how far the tubes measured lie apart."""
        return max(self.each_mm) - min(self.each_mm)


def water_density_kg_m3(temperature_c: float) -> float:
    """Return the density of water at ``temperature_c``, 0 to 40 °C.

    Notes
    -----
    ρ = a5 [1 − (t + a1)² (t + a2) / (a3 (t + a4))].
    """
    refuse_outside("temperature_c", temperature_c, low=0, high=40, remedy=TEMPERATURE_REMEDY)
    a1, a2, a4 = (rule(f"water_density_{name}_c").value for name in ("a1", "a2", "a4"))
    a3, a5 = rule("water_density_a3_c2").value, rule("water_density_a5_kg_m3").value
    return a5 * (1 - (temperature_c + a1) ** 2 * (temperature_c + a2) / (a3 * (temperature_c + a4)))


def bore_of(tubes: Sequence[Levels], *, temperature_c: float, shaped_height_mm: float | None) -> Bore:
    """Return the bore from the water in one to three tubes of a kind.

    Parameters
    ----------
    shaped_height_mm
        Height of a cone; ``None`` for a round bottom, whose height is half the bore; 0 for a flat one.

    Raises
    ------
    Refusals
        If a reading cannot be, or a level stands where the tube is not straight.

    Notes
    -----
    Water fills a cylinder, m = ρ π D² h / 4. Of each difference the two readings add in squares; a diameter feels half
    of the relative error of mass, height and density. Over several tubes the mean is taken, and the uncertainty is that
    of one measurement or the scatter between tubes, whichever is more, divided by the root of their number.
    """
    if not 1 <= len(tubes) <= TUBES_MAX:
        limit = f"1 to {TUBES_MAX} tubes are measured"
        raise Refusal("tubes", len(tubes), limit, "Measure three tubes of the kind, or one.")
    water_kg_m3 = water_density_kg_m3(temperature_c)
    found: list[Refusal] = []
    for number, levels in enumerate(tubes):
        found += _refused(f"tubes.{number}", levels)
    if found:
        raise Refusals(found)
    each_mm = tuple(_diameter_mm(levels, water_kg_m3) for levels in tubes)
    for number, (levels, diameter_mm) in enumerate(zip(tubes, each_mm, strict=True)):
        found += _refused_shape(f"tubes.{number}", levels, diameter_mm, shaped_height_mm)
    if found:
        raise Refusals(found)
    spreads_mm = [_spread_mm(levels, diameter) for levels, diameter in zip(tubes, each_mm, strict=True)]
    scatter_mm = stdev(each_mm) if len(tubes) > 1 else 0.0
    return Bore(
        inner_diameter_mm=mean(each_mm),
        uncertainty_mm=max(*spreads_mm, scatter_mm) / math.sqrt(len(tubes)),
        each_mm=each_mm,
        water_kg_m3=water_kg_m3,
        source=cited(rule("water_density_a5_kg_m3")),
    )


def caution_tubes_differ(bore: Bore) -> Caution | None:
    """Say when tubes of one kind differ by more than the prediction assumes."""
    row = rule("bore_tubes_differ_mm")
    if bore.differ_mm <= row.value:
        return None
    text = (
        f"The tubes measured differ by {bore.differ_mm:.2f} mm, more than {row.value:g} mm: this kind varies by more "
        "than the prediction assumes. Measure them once more; if it stands, expect wider results than are shown."
    )
    return Caution(text=text, source=cited(row), status=Status.CLINIC_CHOICE)


def _diameter_mm(levels: Levels, water_kg_m3: float) -> float:
    water_mm3 = (levels.upper_g - levels.lower_g) / water_kg_m3 * 1e6
    return 2 * math.sqrt(water_mm3 / (math.pi * (levels.upper_mm - levels.lower_mm)))


def _spread_mm(levels: Levels, diameter_mm: float) -> float:
    mass_frac = math.sqrt(2) * rule("bore_scale_reading_g").value / (levels.upper_g - levels.lower_g)
    height_frac = math.sqrt(2) * rule("bore_ruler_reading_mm").value / (levels.upper_mm - levels.lower_mm)
    return diameter_mm / 2 * math.hypot(mass_frac, height_frac)


def _refused(path: str, levels: Levels) -> list[Refusal]:
    found: list[Refusal] = []
    ranges = (("mm", 0.0, 250.0, HEIGHT_REMEDY), ("g", 0.0, 250.0, MASS_REMEDY))
    for unit, low, high, remedy in ranges:
        for level in ("lower", "upper"):
            value = getattr(levels, f"{level}_{unit}")
            try:
                refuse_outside(f"{path}.{level}_{unit}", value, low=low, high=high, remedy=remedy)
            except Refusal as refusal:
                found.append(refusal)
    if found:
        return found
    if levels.upper_mm - levels.lower_mm < LEVELS_APART_MIN_MM:
        limit = f"it must stand at least {LEVELS_APART_MIN_MM:g} mm above the lower level at {levels.lower_mm:g} mm"
        found.append(Refusal(f"{path}.upper_mm", levels.upper_mm, limit, "Fill to near the top of the straight part."))
    if levels.upper_g <= levels.lower_g:
        limit = f"it must be more than the {levels.lower_g:g} g at the lower level"
        found.append(Refusal(f"{path}.upper_g", levels.upper_g, limit, "Do not set the scale to zero in between."))
    return found


def _refused_shape(path: str, levels: Levels, diameter_mm: float, shaped_height_mm: float | None) -> list[Refusal]:
    straight_from_mm = diameter_mm / 2 if shaped_height_mm is None else shaped_height_mm
    if levels.lower_mm >= straight_from_mm:
        return []
    limit = f"the tube is straight only above {straight_from_mm:.1f} mm"
    return [Refusal(f"{path}.lower_mm", levels.lower_mm, limit, "Begin with more water in the tube.")]
