"""What a prediction took for granted, and what it warns of."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plasmawright.parameters.sets import ParameterSet
from plasmawright.parameters.table import Kind, Sourced, rows, value
from plasmawright.preparation.protocol import Preparation, Resuspend, Spin, Stop, Withdraw
from plasmawright.preparation.run import Bench, Setting

Array = NDArray[np.float64]

# Fields that may be left out, and the row each is then drawn from.
POPULATIONS = {
    "white_cells_1e9_per_l": "population_white_cells_1e9_per_l",
    "lymphocytes_frac": "population_lymphocytes_frac",
    "monocytes_frac": "population_monocytes_frac",
    "mean_platelet_volume_fl": "population_mean_platelet_volume_fl",
    "temperature_c": "population_temperature_c",
}
# Rows that speak of reading or technique: they matter only when draws are made.
SPREAD_ONLY = (
    "stop_error_mm", "volume_stop_error_frac", "leave_error_frac", "rotor_speed_error_frac", "bottom_radius_error_mm",
    "inner_diameter_error_mm", "blood_fill_error_frac", "hematocrit_error_frac", "platelet_count_error_frac",
    "white_count_error_frac", "temperature_error_c",
)  # fmt: skip
# Tables every prediction stands on; the others hold populations and what other rooms allow for.
OF_PREDICTION = ("fluids", "cells", "bed", "technique")


@dataclass(frozen=True, kw_only=True)
class Assumed:
    """One number that was not given, as the contract prints it."""

    name: str
    value: float
    unit: str
    source: str
    spread: float

    def as_document(self) -> dict[str, object]:
        """Return the item as a JSON object."""
        return {
            "name": self.name, "value": self.value, "unit": self.unit, "source": self.source, "spread": self.spread,
        }  # fmt: skip


def assumed_in(preparation: Preparation, parameters: ParameterSet) -> tuple[Assumed, ...]:
    """Return every number that was not given: population values first, then the model's, then spreads of reading."""
    drawing = parameters.count > 1
    left_out = {row: f"blood.{name}" for name, row in POPULATIONS.items() if getattr(preparation.blood, name) is None}
    spins = [(i, step) for i, step in enumerate(preparation.steps) if isinstance(step, Spin)]
    for side in ("up_s", "down_s"):
        if any(getattr(step, side) is None for _, step in spins):
            left_out[f"ramp_{side}"] = f"steps.{side}"
    found = [_told(row, left_out[row.name]) for row in rows().values() if row.name in left_out]
    optional = {*POPULATIONS.values(), "ramp_up_s", "ramp_down_s", "handling_frac", "inclined_efficiency"}
    found += [
        _told(row, row.name)
        for row in rows().values()
        if row.table in OF_PREDICTION
        and row.name not in optional
        and row.name not in SPREAD_ONLY
        and row.kind is not Kind.DEFINED
    ]
    if preparation.rotor.angle_deg < 90:
        found.append(_told(rows()["inclined_efficiency"], "inclined_efficiency"))
    handlings = [step for step in preparation.steps if isinstance(step, Resuspend)]
    if handlings and (drawing or any(step.handling_frac is None for step in handlings)):
        found.append(_told(rows()["handling_frac"], "steps.handling_frac"))
    if drawing:
        found += [_told(rows()[name], name) for name in SPREAD_ONLY]
    return tuple(found)


def _told(row: Sourced, name: str) -> Assumed:
    return Assumed(name=name, value=row.value, unit=row.unit, source=row.citation, spread=row.spread)


def warnings_of(
    preparation: Preparation, bench: Bench, setting: Setting, products: Mapping[str, Mapping[str, Array] | None]
) -> tuple[str, ...]:
    """Return what a person must know before acting on the numbers."""
    found = [
        "Every number here is predicted, not counted. White and red cells are known to an order of magnitude only.",
    ]
    if preparation.rotor.angle_deg < 90:
        found.append(
            "Fixed-angle rotor: an approximation, not validated until this clinic's own counts say otherwise. Stop "
            "farther from the cells; the pellet lies on the outer wall, towards the bottom, away from the rotor's axis."
        )
    if preparation.blood.hematocrit_frac > 0.55:
        found.append("Haematocrit above 0.55: less plasma, and the anticoagulant is concentrated in it.")
    if any(isinstance(step, Withdraw) and step.stop is Stop.WITH_BUFFY_COAT for step in preparation.steps):
        found.append("Drawing the buffy coat takes red and white cells along: how many depends on the hand.")
    if float(np.median(bench.content.pellet_m3.sum(axis=1))) > 0:
        found.append("The pellet was never resuspended: its cells are counted as left with the cells.")
    poor = products["ppp"]
    if poor is not None:
        pooled = poor["platelets_1e9"] + (products["prp"] or {})["platelets_1e9"]
        pooled = pooled + products["lost_in_handling"]["platelets_1e9"]  # type: ignore[index]
        # a plasma without a platelet keeps none back
        share = float(np.median(poor["platelets_1e9"] / np.maximum(pooled, 1e-300)))
        if share > value("platelets_left_in_poor_frac"):
            found.append(
                f"{share:.0%} of the plasma's platelets stay in the platelet-poor plasma: spin harder or longer, or "
                "use more tubes so that the column is shorter."
            )
    return tuple(found)
