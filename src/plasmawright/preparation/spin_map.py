"""Force by time: what one spin of a preparation gives over a range of both."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from plasmawright.errors import Refusal
from plasmawright.parameters.sets import ParameterSet
from plasmawright.preparation.prediction import THREADS, six_digits
from plasmawright.preparation.protocol import Place, Preparation, Spin
from plasmawright.preparation.run import (
    Bench,
    act,
    dialled_speed_rad_s,
    drawn_blood,
    equivalent_s,
    field_of,
    nearest_mm,
    platelets_1e9,
    setting_of,
    spin_seen,
)
from plasmawright.preparation.sample import sample_of
from plasmawright.science.settling_kernel import RED

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class SpinMap:
    """Recovery and red cells over force and time.

    Parameters
    ----------
    rcf, minutes
        The two axes, ascending; force at the tube's bottom.
    recovery_frac, red_cells_1e12_per_l
        Of what is in hand after the spin and the act that follows it, shape (rcf, minutes); recovery is the share of
        the drawn platelets.
    """

    rcf: Array
    minutes: Array
    recovery_frac: Array
    red_cells_1e12_per_l: Array

    @property
    def ridge_minutes(self) -> Array:
        """The best minutes for each force, between grid points by the parabola through the best three."""
        best = np.argmax(self.recovery_frac, axis=1)
        inner = np.clip(best, 1, len(self.minutes) - 2)
        at = np.arange(len(self.rcf))
        left, middle, right = (self.recovery_frac[at, inner + shift] for shift in (-1, 0, 1))
        bend = left - 2 * middle + right
        shift = np.where(bend < 0, 0.5 * (left - right) / np.where(bend < 0, bend, -1.0), 0.0)
        step = self.minutes[1] - self.minutes[0]
        found = self.minutes[inner] + np.clip(shift, -1, 1) * step
        return np.asarray(np.where(best == inner, found, self.minutes[best]))

    def as_document(self) -> dict[str, object]:
        """Return what ``map --json`` prints."""
        return {
            "rcf": [six_digits(x) for x in self.rcf],
            "minutes": [six_digits(x) for x in self.minutes],
            "recovery_frac": [[six_digits(x) for x in row] for row in self.recovery_frac],
            "red_cells_1e12_per_l": [[six_digits(x) for x in row] for row in self.red_cells_1e12_per_l],
            "ridge": [
                {"rcf": six_digits(rcf), "minutes": six_digits(minutes)}
                for rcf, minutes in zip(self.rcf, self.ridge_minutes, strict=True)
            ],
        }


def even_axes(*, rcf: tuple[float, float], minutes: tuple[float, float], points: int) -> tuple[Array, Array]:
    """Return the axes of a map: forces by even factors, times by even steps."""
    return np.geomspace(*rcf, points), np.linspace(*minutes, points)


def spin_map(preparation: Preparation, parameters: ParameterSet, *, step: int, rcf: Array, minutes: Array) -> SpinMap:
    """Map one spin of a preparation at the centre of its beliefs.

    Every force is one march that is looked at at every time; the forces stand side by side as draws.

    Parameters
    ----------
    parameters
        A set of one draw.
    step
        Which step, counted from 1; it must be a spin.
    rcf, minutes
        Ascending; at least three each.
    """
    at = step - 1
    spun = preparation.steps[at] if 0 <= at < len(preparation.steps) else None
    if not isinstance(spun, Spin):
        spins = [str(i + 1) for i, one in enumerate(preparation.steps) if isinstance(one, Spin)]
        raise Refusal("step", step, f"it must be a spin of the file: {' or '.join(spins)}", "Choose one of these.")
    side_by_side = replace(
        parameters,
        draws=np.repeat(parameters.draws, len(rcf), axis=0),
        weights=np.ones(len(rcf)),
    )
    sample = sample_of(preparation, side_by_side)
    setting = setting_of(preparation, sample, side_by_side, threads=THREADS, nearest_mm=nearest_mm(preparation))
    bench = drawn_blood(preparation, setting)
    for before in preparation.steps[:at]:
        bench = act(bench, before, setting)
    speeds = np.array(
        [
            dialled_speed_rad_s(bench, replace(spun, rcf=float(force), rpm=None, rcf_at=Place.BOTTOM), setting)
            for force in rcf
        ]
    )
    longest_s = equivalent_s(replace(spun, minutes=float(minutes[-1])), side_by_side)
    shares = np.array([equivalent_s(replace(spun, minutes=float(m)), side_by_side)[0] for m in minutes]) / longest_s[0]
    seen = spin_seen(bench, field_of(bench, speeds, setting), setting, time_s=longest_s, moments=shares)
    following = preparation.steps[at + 1 :]
    stop = next((i for i, one in enumerate(following) if isinstance(one, Spin)), len(following))
    recovery, red = np.empty((2, len(rcf), len(minutes)))
    for column, after in enumerate(seen):
        done: Bench = after
        for one in following[:stop]:
            done = act(done, one, setting)
        amounts = done.content.amounts_m3 * done.tubes
        drawn = sample.per_tube_m3 * preparation.collection.tubes
        recovery[:, column] = platelets_1e9(amounts, sample) / platelets_1e9(drawn, sample)
        cells_1e12 = amounts[:, RED] / sample.cell_volume_m3[:, RED] / 1e12
        red[:, column] = cells_1e12 / (done.content.filled_m3 * done.tubes * 1e3)
    return SpinMap(rcf=rcf, minutes=minutes, recovery_frac=recovery, red_cells_1e12_per_l=red)
