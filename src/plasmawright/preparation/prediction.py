"""The only way anything in the house learns of a tube: ``predict(preparation, parameters)``."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plasmawright.errors import Refusal
from plasmawright.parameters.sets import ParameterSet
from plasmawright.preparation.assumptions import Assumed, assumed_in, warnings_of
from plasmawright.preparation.protocol import Preparation, Withdraw
from plasmawright.preparation.run import (
    Bench,
    Heap,
    Setting,
    act,
    drawn_blood,
    nearest_mm,
    platelets_1e9,
    setting_of,
    stop_m,
    taken_at,
)
from plasmawright.preparation.sample import PLATELETS, WHITES, Sample, sample_of
from plasmawright.science.cells import Content, interface_m, take_above
from plasmawright.science.settling_kernel import RED
from plasmawright.science.tube import height_m
from plasmawright.science.uncertainty import quantiles

Array = NDArray[np.float64]
Quantities = Mapping[str, Array]

THREADS = 2
# Half the distance over which the slope of recovery with the stop line is measured.
SLOPE_REACH_M = 0.25e-3


@dataclass(frozen=True, kw_only=True)
class Layers:
    """What a to-scale drawing of the collection tube needs, medians over the draws, heights from the bottom in mm."""

    filled_mm: float
    interface_mm: float
    stop_mm: float
    stop_low_mm: float
    stop_high_mm: float
    red_frac: tuple[float, ...]
    white_frac: tuple[float, ...]
    platelet_frac: tuple[float, ...]


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What a preparation gives, one value a draw, in the contract's units.

    Every mapping goes from the contract's key to an array of shape (draws,).
    """

    after_first_spin: Quantities
    products: Mapping[str, Quantities | None]
    platelets_1e9_in: Array
    platelets_1e9_out: Array
    weights: Array
    layers: Layers
    assumed: tuple[Assumed, ...]
    warnings: tuple[str, ...]

    def as_document(self) -> dict[str, object]:
        """Return what ``simulate --json`` prints: numbers for one draw, intervals for more."""
        return {
            "after_first_spin": self._told(self.after_first_spin),
            "products": {
                name: None if product is None else self._told(product) for name, product in self.products.items()
            },
            "ledger": {
                "platelets_1e9_in": six_digits(float(np.median(self.platelets_1e9_in))),
                "platelets_1e9_out": six_digits(float(np.median(self.platelets_1e9_out))),
                "error_frac": float(np.max(np.abs(self.platelets_1e9_out / self.platelets_1e9_in - 1))),
            },
            "assumed": [item.as_document() for item in self.assumed],
            "warnings": list(self.warnings),
        }

    def _told(self, quantities: Quantities) -> dict[str, object]:
        return {name: told(values, self.weights) for name, values in quantities.items()}


def six_digits(value: float) -> float:
    """Return ``value`` to six significant digits, the most that is ever printed."""
    return float(f"{value:.6g}")


def told(values: Array, weights: Array) -> object:
    """Return one draw as a number, more as their 5, 50 and 95 % quantiles."""
    if len(values) == 1:
        return six_digits(float(values[0]))
    low, middle, high = quantiles(values, weights, (0.05, 0.5, 0.95))
    return {"p05": six_digits(float(low)), "p50": six_digits(float(middle)), "p95": six_digits(float(high))}


def predict(preparation: Preparation, parameters: ParameterSet) -> Outcome:
    """Carry one blood through one protocol, on every draw of ``parameters``.

    Raises
    ------
    Refusal
        If a step cannot be done with what is then in hand.
    """
    sample = sample_of(preparation, parameters)
    setting = setting_of(preparation, sample, parameters, threads=THREADS, nearest_mm=nearest_mm(preparation))
    bench = drawn_blood(preparation, setting)
    first: tuple[Quantities, Layers] | None = None
    for number, step in enumerate(preparation.steps):
        try:
            if first is None and isinstance(step, Withdraw):
                first = _first_withdrawal(bench, step, setting)
            bench = act(bench, step, setting)
        except Refusal as refusal:
            raise refusal.in_step(number) from refusal
    if first is None:
        raise Refusal("steps", "no withdrawal", "a preparation withdraws plasma at least once", "Add a withdraw step.")
    return _outcome(preparation, bench, setting, first)


def _outcome(preparation: Preparation, bench: Bench, setting: Setting, first: tuple[Quantities, Layers]) -> Outcome:
    sample, parameters = setting.sample, setting.parameters
    content = bench.content
    # a pellet that was never brought back is not in the product
    pellet = Heap(volume_m3=np.zeros(sample.draws), amounts_m3=content.pellet_m3 * bench.tubes)
    rich = Heap(
        volume_m3=content.filled_m3 * bench.tubes,
        amounts_m3=content.suspended_m3 * bench.tubes,
    )
    left = bench.with_cells + pellet
    drawn = sample.per_tube_m3 * preparation.collection.tubes
    entered = platelets_1e9(drawn, sample)
    lost = platelets_1e9(bench.lost_m3, sample)
    products: dict[str, Quantities | None] = {
        "prp": _rich(rich, sample, entered),
        "ppp": None if bench.poor is None else _poor(bench.poor, sample),
        "left_with_cells": _plain(left, sample),
        "lost_in_handling": {"platelets_1e9": lost},
    }
    parts = [rich, left] if bench.poor is None else [rich, left, bench.poor]
    out = sum((platelets_1e9(part.amounts_m3, sample) for part in parts), start=lost)
    return Outcome(
        after_first_spin=first[0],
        products=products,
        platelets_1e9_in=entered,
        platelets_1e9_out=np.asarray(out),
        weights=parameters.weights,
        layers=first[1],
        assumed=assumed_in(preparation, parameters),
        warnings=warnings_of(preparation, bench, setting, products),
    )


def _rich(heap: Heap, sample: Sample, entered: Array) -> Quantities:
    volume_ml = heap.volume_m3 * 1e6
    platelets = platelets_1e9(heap.amounts_m3, sample)
    count = platelets / volume_ml * 1e3
    per_l = heap.volume_m3 * 1e3
    whites = (heap.amounts_m3[:, WHITES] / sample.cell_volume_m3[:, WHITES]).sum(axis=1)
    return {
        "volume_ml": volume_ml,
        "platelets_1e9": platelets,
        "platelets_1e9_per_l": count,
        "recovery_frac": platelets / entered,
        "fold": count / sample.platelets_1e9_per_l,
        "red_cells_1e12_per_l": heap.amounts_m3[:, RED] / sample.cell_volume_m3[:, RED] / per_l / 1e12,
        "white_cells_1e9_per_l": whites / per_l / 1e9,
    }


def _plain(heap: Heap, sample: Sample) -> dict[str, Array]:
    return {"volume_ml": heap.volume_m3 * 1e6, "platelets_1e9": platelets_1e9(heap.amounts_m3, sample)}


def _poor(heap: Heap, sample: Sample) -> Quantities:
    plain = _plain(heap, sample)
    there = plain["volume_ml"] > 1e-9
    count = plain["platelets_1e9"] / np.where(there, plain["volume_ml"], 1.0) * 1e3
    return {**plain, "platelets_1e9_per_l": np.where(there, count, 0.0)}


def _red_frac_at(content: Content, height_above_m: Array) -> Array:
    """Return the haematocrit at a height above the bottom, one a draw."""
    below = content.face_height_m[:, 1:] <= height_above_m[:, None]
    return np.asarray(content.phi[np.arange(len(below)), RED, np.argmax(below, axis=1)])


def _mean_platelet_m3(amounts_m3: Array, sample: Sample) -> Array:
    """Return the mean volume of the platelets in amounts of each kind; of the blood's where there are none."""
    kinds_m3 = sample.cell_volume_m3[:, PLATELETS]
    number = amounts_m3[:, PLATELETS] / kinds_m3
    number = np.where(number.sum(axis=1, keepdims=True) > 0, number, 1.0)
    return np.asarray((number * kinds_m3).sum(axis=1) / number.sum(axis=1))


def _first_withdrawal(bench: Bench, step: Withdraw, setting: Setting) -> tuple[Quantities, Layers]:
    """Return what the first spin shows, and what its withdrawal gives."""
    content, sample = bench.content, setting.sample
    stop = stop_m(content, step, setting.parameters)
    taken = taken_at(bench, stop, setting)
    entered = platelets_1e9(content.amounts_m3, sample)
    nearer = [
        platelets_1e9(taken_at(bench, stop + shift, setting).amounts_m3, sample) / entered
        for shift in (SLOPE_REACH_M, -SLOPE_REACH_M)
    ]
    seen = interface_m(content)
    # the bed is what lies below the interface, whatever tip draws the plasma
    bed = take_above(content, stop_m=seen, width_m=0.0).rest
    quantities = {
        "plasma_ml": taken.volume_m3 * 1e6 * bench.tubes,
        "recovery_frac": platelets_1e9(taken.amounts_m3, sample) / entered,
        "interface_mm": seen * 1e3,
        "bed_hematocrit_frac": bed.amounts_m3[:, RED] / bed.filled_m3,
        "filled_ml": content.filled_m3 * 1e6 * bench.tubes,
        "plasma_above_cells_ml": (content.filled_m3 - bed.filled_m3) * 1e6 * bench.tubes,
        "mid_bed_hematocrit_frac": _red_frac_at(content, 0.5 * seen),
        "mean_platelet_volume_ratio": _mean_platelet_m3(taken.amounts_m3, sample)
        / _mean_platelet_m3(content.amounts_m3, sample),
        "recovery_per_mm_frac": (nearer[0] - nearer[1]) / (2 * SLOPE_REACH_M * 1e3),
    }
    low, middle, high = quantiles(stop * 1e3, setting.parameters.weights, (0.05, 0.5, 0.95))
    mean = np.average(content.phi, axis=0, weights=setting.parameters.weights)
    return quantities, Layers(
        filled_mm=float(np.median(height_m(content.tube, content.filled_m3))) * 1e3,
        interface_mm=float(np.median(seen)) * 1e3,
        stop_mm=float(middle),
        stop_low_mm=float(low),
        stop_high_mm=float(high),
        red_frac=tuple(map(six_digits, mean[RED])),
        white_frac=tuple(map(six_digits, mean[WHITES].sum(axis=0))),
        platelet_frac=tuple(map(six_digits, mean[1:4].sum(axis=0))),
    )
