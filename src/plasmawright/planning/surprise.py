"""What lies outside what the plan thought possible, and the likeliest causes by how well each explains it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import hypot, isfinite

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from plasmawright.parameters.sets import central
from plasmawright.parameters.table import rows, value
from plasmawright.planning.seen_march import Acts, Marched, SoftRun, soft_run
from plasmawright.planning.seen_readings import Seen
from plasmawright.planning.seen_weighing import POSSIBLE_FRAC, Reading, Sight, Weighed, height_error_mm, readings_of
from plasmawright.preparation.prediction import six_digits
from plasmawright.preparation.run import bottom_radius_mm

Array = NDArray[np.float64]

# Sizes marched for each slip, in units of its scale; between them the sight is read off a line.
SIZES = (-3.0, -2.0, -1.25, -0.6, 0.0, 0.6, 1.25, 2.0, 3.0)
# And how many sizes are tried between the ends.
FINE = 241
# Another kind of tube is seen at once by who draws: as large a slip as this many scales.
OTHER_TUBE_SCALES = 2.0
# A column may not come nearer to the axis than this share of the radius.
COLUMN_FRAC_MAX = 0.85
# Causes that mend less of the misfit than this are not named.
EXPLAINS_FRAC_MIN = 0.2
# A yes-or-no sight is asked about when the plan gave it less than this.
SIGHT_CHANCE_MIN = 0.1
VOLUMES = ("plasma_ml", "plasma_g", "plasma_all_ml", "plasma_all_g")


@dataclass(frozen=True, kw_only=True)
class Cause:
    """One thing that would explain what was read.

    ``explains_frac`` is the share of the misfit it takes away; ``None`` where nothing could be computed.
    """

    name: str
    words: str
    check: str
    explains_frac: float | None = None

    def as_document(self) -> dict[str, object]:
        """Return the cause as a JSON object."""
        share = None if self.explains_frac is None else six_digits(self.explains_frac)
        return {"name": self.name, "words": self.words, "check": self.check, "explains_frac": share}


@dataclass(frozen=True, kw_only=True)
class Surprise:
    """One reading the plan did not think possible, and what to look at, the likeliest first."""

    name: str
    words: str
    causes: tuple[Cause, ...]

    def as_document(self) -> dict[str, object]:
        """Return the surprise as a JSON object."""
        return {"name": self.name, "words": self.words, "causes": [one.as_document() for one in self.causes]}


@dataclass(frozen=True, kw_only=True)
class _Slip:
    """A way in which the bench may differ from what was planned: a column of the draws and the scale of the slip."""

    name: str
    column: str
    scale: float


def surprises_of(run: Marched, seen: Seen, weighed: Sequence[Weighed], sights: Sequence[Sight]) -> tuple[Surprise, ...]:
    """Return what lies outside, each with its causes; the slips are marched once, and only when they are asked for."""
    found = []
    outside = [one for one in weighed if one.outside]
    uneven = _uneven(run, seen)
    marched = [one for one in weighed if one.reading.name != "prp_ml" and isfinite(one.error)]
    if uneven or any(one in marched for one in outside):
        slips = _Slips.of(run)
        found += [_surprise(one, slips.causes(run, marched)) for one in outside if one in marched]
        found += [_uneven_surprise(run, odd, others, slips) for odd, others in uneven]
    found += [_surprise(one, _AFTER_POOLING) for one in outside if one not in marched]
    for sight in sights:
        if float(run.weights @ sight.chance) < SIGHT_CHANCE_MIN:
            words = f"{sight.title}: {sight.seen}, which the plan gave {float(run.weights @ sight.chance):.0%}."
            found.append(Surprise(name=sight.name, words=words, causes=_HAZE if sight.seen == "hazy" else ()))
    return tuple(found)


_AFTER_POOLING = (
    Cause(name="reading", words="The volume was misread.", check="Read the scale again at eye level."),
    Cause(
        name="leave",
        words="More or less was left over the pellets than the plan says.",
        check="Compare what stands in the second tubes with the volume to leave.",
    ),
    Cause(name="tubes", words="A second tube is not in it.", check="Count the second tubes."),
)
_HAZE = (
    Cause(
        name="spin",
        words="The hard spin was shorter or slower than it is written.",
        check="Read the display and the timer again.",
    ),
    Cause(name="pellet", words="The pellet was stirred up.", check="Look at the pellet; spin again if it is loose."),
    Cause(
        name="fat",
        words="Fat in the plasma: it is milky, not hazy, and was so before the spin.",
        check="Compare with the plasma after the soft spin.",
    ),
)


def _surprise(one: Weighed, causes: tuple[Cause, ...]) -> Surprise:
    reading = one.reading
    middle = float(np.median(one.expected))
    side = "above" if reading.read > middle else "below"
    words = (
        f"{reading.title} {reading.read:.1f} {reading.unit} lies {side} what the plan thought possible (about "
        f"{middle:.1f} {reading.unit}). Read it again; what you see counts."
    )
    return Surprise(name=reading.name, words=words, causes=causes)


@dataclass(frozen=True, kw_only=True)
class _Slips:
    """Every slip marched at the centre: for each its sizes and the tubes as they would stand."""

    slips: tuple[_Slip, ...]
    sizes: tuple[Array, ...]
    soft: SoftRun
    other_tubes: tuple[tuple[str, SoftRun], ...]

    @classmethod
    def of(cls, run: Marched) -> "_Slips":
        """March every slip of ``run`` that can stand in the rotor, and every other kind of tube it might have been."""
        slips = (
            _Slip(name="tube", column="inner_diameter_error_mm", scale=value("slip_bore_mm")),
            _Slip(name="rotor", column="bottom_radius_error_mm", scale=value("slip_radius_mm")),
            _Slip(name="haematocrit", column="hematocrit_error_frac", scale=value("slip_hematocrit_frac")),
            _Slip(name="fill", column="blood_fill_error_frac", scale=value("slip_fill_frac")),
            _Slip(name="spin", column="rotor_speed_error_frac", scale=value("slip_speed_frac")),
            _Slip(name="hand", column="stop_error_mm", scale=value("slip_stop_mm")),
        )
        sizes = tuple(np.array([size for size in SIZES if _stands(run, slip, size)]) for slip in slips)
        one = central()
        count = sum(len(each) for each in sizes)
        many = replace(one, draws=np.tile(one.draws, (count, 1)), weights=np.ones(count))
        start = 0
        draws = many.draws.copy()
        for slip, each in zip(slips, sizes, strict=True):
            at = one.names.index(slip.column)
            draws[start : start + len(each), at] += each * slip.scale
            start += len(each)
        return cls(
            slips=slips,
            sizes=sizes,
            soft=soft_run(run.visit, replace(many, draws=draws), run.acts, margin_mm=run.soft.margin_mm),
            other_tubes=tuple(_other_tubes(run)),
        )

    def causes(self, run: Marched, weighed: Sequence[Weighed]) -> tuple[Cause, ...]:
        """Return the causes ranked by what they leave of the misfit of all readings and by how large a slip they ask.

        A misfit is measured against the readings' errors and the spread of the plan's draws, which move together: what
        a slip must explain is what is beyond both.
        """
        expected = np.stack([one.expected for one in weighed], axis=1)
        errors = np.diag([one.reading.error**2 for one in weighed])
        believed = np.linalg.inv(np.atleast_2d(np.cov(expected.T)) + errors)
        readings = [one.reading for one in weighed]
        misfit = np.array([one.read for one in readings]) - np.median(expected, axis=0)

        def size_of(left: Array) -> Array:
            return np.asarray(np.einsum("...i,ij,...j->...", left, believed, left))

        found = []
        for slip, (sizes, shifts) in zip(self.slips, self._moved(run.acts, readings), strict=True):
            if slip.name == "hand" and not any(one.name in VOLUMES for one in readings):
                continue
            fine = np.linspace(sizes.min(), sizes.max(), FINE)
            shift = np.stack([np.interp(fine, sizes, shifts[:, i]) for i in range(len(readings))], axis=1)
            left = size_of(misfit - shift)
            best = int(np.argmin(left + fine**2))
            found.append((float(left[best]), float(fine[best] ** 2), _cause(slip, float(fine[best]), run)))
        for name, soft in self.other_tubes:
            shift = _shift(self.soft, soft, readings, run.acts, self._centre)
            found.append((float(size_of(misfit - shift)), OTHER_TUBE_SCALES**2, _other_tube_cause(name)))
        return _ranked(found, whole=float(size_of(misfit)))

    @property
    def _centre(self) -> int:
        """Which row stands at the centre."""
        return int(np.flatnonzero(self.sizes[0] == 0.0)[0])

    def _moved(self, acts: Acts, readings: Sequence[Reading]) -> list[tuple[Array, Array]]:
        """Return for each slip its sizes and how far each reading moves with them, shape (sizes, readings)."""
        expected = np.stack([_expected(reading, self.soft, acts) for reading in readings], axis=1)
        moved = expected - expected[self._centre]
        edges = np.cumsum([0, *(len(each) for each in self.sizes)])
        return [(each, moved[edges[i] : edges[i + 1]]) for i, each in enumerate(self.sizes)]


def _expected(reading: Reading, soft: SoftRun, acts: Acts) -> Array:
    found = reading.expected(soft, acts)
    return np.zeros(len(soft.interface_mm)) if found is None else found


def _shift(centre: SoftRun, other: SoftRun, readings: Sequence[Reading], acts: Acts, at: int) -> Array:
    return np.array([float(_expected(one, other, acts)[0] - _expected(one, centre, acts)[at]) for one in readings])


def _ranked(found: list[tuple[float, float, Cause]], *, whole: float) -> tuple[Cause, ...]:
    """Return the causes that mend enough, the best first, one of each name."""
    kept: dict[str, Cause] = {}
    for left, _, cause in sorted(found, key=lambda one: one[0] + one[1]):
        explains = 1 - left / whole if whole > 0 else 0.0
        if explains >= EXPLAINS_FRAC_MIN and cause.name not in kept:
            kept[cause.name] = replace(cause, explains_frac=min(explains, 1.0))
    return tuple(kept.values())


def _stands(run: Marched, slip: _Slip, size: float) -> bool:
    """Return whether a slip of this size leaves a column that fits between bottom and axis."""
    kind = run.visit.tubes[run.visit.bench.tube]
    column_mm, radius_mm = float(np.median(run.soft.column_mm)), bottom_radius_mm(kind, run.visit.rotor)
    change = size * slip.scale
    if slip.name == "tube":
        bore_mm = kind.inner_diameter_mm + change
        if bore_mm <= 0.5 * kind.inner_diameter_mm:
            return False
        column_mm *= (kind.inner_diameter_mm / bore_mm) ** 2
    elif slip.name == "fill":
        column_mm *= 1 + change
    elif slip.name == "rotor":
        radius_mm += change
    return column_mm < COLUMN_FRAC_MAX * radius_mm


def _other_tubes(run: Marched) -> list[tuple[str, SoftRun]]:
    """Return the run in every other kind of tube of the visit that would have held the blood."""
    bench = run.visit.bench
    filled_ml = run.acts.blood_ml + bench.anticoagulant_ml
    found = []
    for name, kind in run.visit.tubes.items():
        if name != bench.tube and kind.capacity_ml >= filled_ml:
            there = replace(run.visit, bench=replace(bench, tube=name))
            found.append((name, soft_run(there, central(), run.acts, margin_mm=run.soft.margin_mm)))
    return found


def _other_tube_cause(name: str) -> Cause:
    return Cause(
        name="tube",
        words=f'Blood was drawn into the other kind of tube, "{name}".',
        check="Read the kind on the tube.",
    )


def _cause(slip: _Slip, size: float, run: Marched) -> Cause:
    """Return what a slip of ``size`` scales would mean, in words, and what to look at."""
    change = size * slip.scale
    kind = run.visit.tubes[run.visit.bench.tube]
    match slip.name:
        case "tube":
            words = f"Another tube: a bore of {kind.inner_diameter_mm + change:.1f} mm, not {kind.inner_diameter_mm:g}."
            check = "Read the kind on the tube; measure its bore."
        case "rotor":
            radius_mm = bottom_radius_mm(kind, run.visit.rotor)
            words = f"Another rotor or adapter: a radius of {radius_mm + change:.0f} mm, not {radius_mm:g}."
            check = "Look which rotor and adapter are in; measure to the tube's bottom."
        case "haematocrit":
            centre = float(np.median(run.soft.setting.sample.hematocrit_frac))
            words = f"A haematocrit of about {centre * (1 + change):.2f}, not {centre:.2f}."
            check = "Look at the count's date and name; count again."
        case "fill":
            words = f"Unequal fill: {run.acts.blood_ml * (1 + change):.1f} mL of blood, not {run.acts.blood_ml:.1f}."
            check = "Compare the menisci; read the fill line."
        case "spin":
            work = (1 + change) ** 2
            words = (
                f"The spin was different: {run.acts.soft.rpm * (1 + change):.0f} rpm, not {run.acts.soft.rpm:.0f}, or "
                f"{run.acts.soft.minutes * work:.1f} min, not {run.acts.soft.minutes:.1f}."
            )
            check = "Read the display, rpm or g, and the timer again."
        case _:
            where = "higher" if change > 0 else "lower"
            words = f"The hand stopped {abs(change):.1f} mm {where} than it meant to."
            check = "Look at what still stands over the red."
    return Cause(name=slip.name, words=words, check=check)


def _uneven(run: Marched, seen: Seen) -> list[tuple[Reading, float]]:
    """Return the readings in which one tube stands apart from the others: the odd tube, and the others' middle."""
    found = []
    fill_frac = rows()["blood_fill_error_frac"].spread
    for name in ("plasma_height_mm", "interface_mm"):
        values: tuple[float, ...] = getattr(seen, name)
        if len(values) < 2:
            continue
        odd = int(np.argmax(np.abs(np.array(values) - np.median(values))))
        others = float(np.median([one for i, one in enumerate(values) if i != odd]))
        error = hypot(height_error_mm(seen), fill_frac * float(np.median(run.soft.column_mm)) / 2)
        pairs = len(values) * (len(values) - 1) / 2
        reach = float(ndtri(1 - (1 - POSSIBLE_FRAC) / 2 / pairs)) * error * 2**0.5
        if abs(values[odd] - others) > reach:
            whole = next(one for one in readings_of(seen) if one.name == name)
            reading = replace(whole, read=values[odd], error=error * 2**0.5, tubes=odd + 1)
            found.append((reading, others))
    return found


def _uneven_surprise(run: Marched, odd: Reading, others: float, slips: _Slips) -> Surprise:
    """Return what may set one tube apart: its fill, its kind, its place in the rotor. The blood and spin are shared."""
    alone = Weighed(reading=odd, expected=np.full(run.parameters.count, others), error=odd.error, outside=True)
    causes = slips.causes(run, (alone,))
    words = (
        f"{odd.title}: tube {odd.tubes} shows {odd.read:.1f} {odd.unit}, the others {others:.1f}, more apart than fill "
        "and reading make them. Read it again."
    )
    own = tuple(one for one in causes if one.name in ("fill", "tube", "rotor"))
    return Surprise(name=odd.name, words=words, causes=own)
