"""What was seen as numbers to weigh draws by: each reading with its error, each sight with its chance."""

from dataclasses import dataclass, replace
from math import hypot, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from plasmawright.parameters.table import value
from plasmawright.planning.seen_march import Acts, Marched, SoftRun
from plasmawright.planning.seen_readings import Edge, PoorLook, ReadBy, Seen
from plasmawright.science.uncertainty import Readings

Array = NDArray[np.float64]

# What lies beyond this share of what the plan thought possible is asked about.
POSSIBLE_FRAC = 0.99
OF_ALL_TUBES = ("plasma_all_ml", "plasma_all_g")


@dataclass(frozen=True, kw_only=True)
class Reading:
    """One number that was read, the mean of several tubes where several were.

    ``error`` is its standard uncertainty; ``minutes`` belongs to a look into the spin.
    """

    name: str
    title: str
    unit: str
    read: float
    error: float
    tubes: int = 1
    minutes: float = 0.0

    def expected(self, soft: SoftRun, acts: Acts) -> Array | None:
        """Return what each draw would have shown; ``None`` for what only shows after the hard spin."""
        match self.name:
            case "interface_mm":
                found = soft.interface_mm
            case "plasma_height_mm":
                found = np.asarray(soft.column_mm - soft.interface_mm)
            case "mid_spin":
                found = soft.interface_after_mm(self.minutes)
            case "prp_ml":
                return None
            case _:
                found = self._drawn_ml(soft, acts)
        return found * soft.setting.sample.plasma_density_kg_m3 / 1e3 if self.unit == "g" else found

    def _drawn_ml(self, soft: SoftRun, acts: Acts) -> Array:
        """Return the plasma drawn off all tubes or off one, as this reading has it."""
        clean = acts.tubes - acts.red_tubes
        if self.name in OF_ALL_TUBES:
            return soft.drawn_ml(clean=clean, red=acts.red_tubes)
        if self.tubes <= clean:
            return soft.drawn_ml(clean=1, red=0)
        return np.asarray(soft.drawn_ml(clean=clean, red=acts.red_tubes) / acts.tubes)


@dataclass(frozen=True, kw_only=True)
class Weighed:
    """A reading beside what the draws expected, with the error it is weighed with.

    ``outside`` says that it lies beyond what the plan thought possible; ``error`` is then widened until it does not, so
    that a reading nobody can explain moves the prediction without sharpening it.
    """

    reading: Reading
    expected: Array
    error: float
    outside: bool

    @property
    def readings(self) -> Readings:
        """The reading alone, ready to update draws."""
        return gathered((self,))


@dataclass(frozen=True, kw_only=True)
class Sight:
    """Something seen or not seen: the chance each draw gave to what was seen."""

    name: str
    title: str
    seen: str
    chance: Array


def gathered(weighed: tuple[Weighed, ...]) -> Readings:
    """Return all readings as one."""
    return Readings(
        expected=np.stack([one.expected for one in weighed], axis=1),
        read=np.array([one.reading.read for one in weighed]),
        error=np.array([one.error for one in weighed]),
    )


def weighed_readings(run: Marched, seen: Seen) -> tuple[Weighed, ...]:
    """Return every reading beside what the draws of ``run`` expected of it."""
    found = []
    for reading in readings_of(seen):
        shown = reading.expected(run.soft, run.acts)
        found.append(_weighed(reading, run.given.rich_ml if shown is None else shown, run.weights))
    return tuple(found)


def _weighed(reading: Reading, expected: Array, weights: Array) -> Weighed:
    below = float(weights @ ndtr((reading.read - expected) / reading.error))
    outside = min(below, 1 - below) < (1 - POSSIBLE_FRAC) / 2
    error = reading.error
    if outside:
        middle = float(weights @ expected)
        spread2 = float(weights @ (expected - middle) ** 2)
        reach = float(ndtri(0.5 + POSSIBLE_FRAC / 2))
        error = sqrt(max(((reading.read - middle) / reach) ** 2 - spread2, error**2))
    return Weighed(reading=reading, expected=expected, error=error, outside=outside)


def readings_of(seen: Seen) -> tuple[Reading, ...]:
    """Return the numbers that were read, in the order in which a run meets them."""
    height_mm = height_error_mm(seen)
    bottom_mm = hypot(height_mm, value("tube_bottom_reading_mm"))
    syringe_ml, scale_g = value("syringe_reading_ml"), value("scale_reading_g")
    found = []
    if seen.mid_spin is not None:
        look = Reading(
            name="mid_spin", title="Look into the soft spin", unit="mm", read=seen.mid_spin.interface_mm,
            error=bottom_mm, minutes=seen.mid_spin.minutes,
        )  # fmt: skip
        found.append(look)
    several = (
        ("plasma_height_mm", "Plasma height", "mm", seen.plasma_height_mm, height_mm),
        ("interface_mm", "Height of the red", "mm", seen.interface_mm, bottom_mm),
        ("plasma_ml", "Plasma of each tube", "mL", seen.plasma_ml, syringe_ml),
        ("plasma_g", "Plasma of each tube, weighed", "g", seen.plasma_g, scale_g),
    )
    for name, title, unit, values, error in several:
        if values:
            one = Reading(name=name, title=title, unit=unit, read=float(np.mean(values)), error=error)
            found.append(replace(one, error=error / sqrt(len(values)), tubes=len(values)))
    whole = (
        ("plasma_all_ml", "Plasma of all tubes", "mL", seen.plasma_all_ml, syringe_ml),
        ("plasma_all_g", "Plasma of all tubes, weighed", "g", seen.plasma_all_g, scale_g),
        ("prp_ml", "Product in hand", "mL", seen.prp_ml, syringe_ml),
    )
    found += [
        Reading(name=name, title=title, unit=unit, read=read, error=error)
        for name, title, unit, read, error in whole
        if read is not None
    ]
    return tuple(found)


def height_error_mm(seen: Seen) -> float:
    """Return the standard uncertainty of one height read between meniscus and red."""
    own = seen.reading_error_mm
    if own is None:
        own = value("ruler_reading_mm" if seen.read_by is ReadBy.RULER else "photo_reading_mm")
    return hypot(own, value("hazy_interface_reading_mm")) if seen.edge is Edge.HAZY else own


def sights_of(run: Marched, seen: Seen) -> tuple[Sight, ...]:
    """Return what was seen without a number. Red that was seen is no sight but an act: its tubes were drawn deeper."""
    found = []
    if seen.red_seen is False:
        tip_mm = run.soft.margin_mm + run.parameters.column("stop_error_mm")
        red = ndtr((value("red_seen_within_mm") - tip_mm) / value("red_seen_width_mm"))
        found.append(Sight(name="red_seen", title="Red in the plasma", seen="none seen", chance=1 - _seen_frac(red)))
    if seen.poor_look is not None:
        relative = np.maximum(run.given.poor_1e9_per_l, 1e-6) / value("haze_seen_1e9_per_l")
        hazy = _seen_frac(ndtr(np.log(relative) / np.log(value("haze_width_fold"))))
        chance = hazy if seen.poor_look is PoorLook.HAZY else 1 - hazy
        found.append(Sight(name="poor_look", title="Platelet-poor plasma", seen=str(seen.poor_look), chance=chance))
    return tuple(found)


def _seen_frac(chance: Array) -> Array:
    """Return the chance that a thing is said to be seen: now and then an eye is simply wrong."""
    wrong = value("sight_wrong_frac")
    return np.asarray(wrong + (1 - 2 * wrong) * chance)
