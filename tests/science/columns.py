"""Columns of blood to spin in these tests: the contract's example with only what a test varies."""

import copy
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any  # a document as read from a file is nested plain data of any kind

import numpy as np
from numpy.typing import NDArray

from plasmawright.parameters.sets import ParameterSet, central
from plasmawright.preparation.protocol import Preparation
from plasmawright.preparation.reading import preparation_from
from plasmawright.preparation.run import Bench, Setting, drawn_blood, nearest_mm, setting_of
from plasmawright.preparation.sample import sample_of
from plasmawright.science import cells
from plasmawright.science.settling import Column, Suspension

Array = NDArray[np.float64]
Document = dict[str, Any]

EXAMPLE: Document = tomllib.loads(
    (Path(__file__).parents[2] / "docs" / "examples" / "contract.toml").read_text(encoding="utf-8")
)


def example() -> Document:
    """A fresh copy of the contract's example file."""
    return copy.deepcopy(EXAMPLE)


def one_spin(
    *,
    blood_ml: float = 8.5,
    anticoagulant_ml: float = 1.5,
    rcf: float = 160,
    minutes: float = 10,
    above_cells_mm: float = 3,
    ramp_s: float = 30,
) -> Document:
    """The example cut down to one spin and one withdrawal."""
    document = example()
    document["collection"].update(blood_ml=blood_ml, anticoagulant_ml=anticoagulant_ml)
    document["tubes"]["conical"]["capacity_ml"] = 100.0  # where the plasma goes is not what is asked
    document["steps"] = [
        {"do": "spin", "rcf": rcf, "minutes": minutes, "up_s": ramp_s, "down_s": ramp_s},
        {"do": "withdraw", "stop": "above_cells_mm", "value": above_cells_mm, "pool_into": "conical"},
    ]
    return document


def bench_of(document: Document, parameters: ParameterSet | None = None) -> tuple[Preparation, Bench, Setting]:
    """The preparation a document says, its blood standing on the bench, and the setting."""
    preparation = preparation_from(document)
    drawn = central() if parameters is None else parameters
    setting = setting_of(
        preparation, sample_of(preparation, drawn), drawn, threads=1, nearest_mm=nearest_mm(preparation)
    )
    return preparation, drawn_blood(preparation, setting), setting


def regridded(bench: Bench, count: int) -> Bench:
    """The same freshly mixed blood on a grid of ``count`` cells."""
    content = bench.content
    return replace(
        bench,
        content=cells.fill(content.tube, filled_m3=content.filled_m3, amounts_m3=content.amounts_m3, cells=count),
    )


def swing_out(*, radius_m: float, speed_rad_s: float) -> cells.Field:
    """The field of one draw in a swing-out rotor."""
    return cells.Field(
        bottom_radius_m=np.array([radius_m]),
        speed_rad_s=np.array([speed_rad_s]),
        lean=np.ones(1),
        pace=np.ones(1),
    )


def lone_kind(
    *,
    mobility_m2_per_pa_s: float,
    density_gap_kg_m3: float,
    packed_frac: float = 0.7,
    hindrance_exponent: float = 3.0,
    stirring_m2_s: float = 0.0,
) -> Suspension:
    """Spheres of one kind, without blood's own terms, in a plasma of 1026 kg/m3."""

    def each(value: float) -> Array:
        return np.array([[value]])

    return Suspension(
        mobility_m2_per_pa_s=each(mobility_m2_per_pa_s),
        density_kg_m3=each(1026 + density_gap_kg_m3),
        plasma_density_kg_m3=np.array([1026.0]),
        expression=each(0),
        entrainment=each(0),
        packed_frac=each(packed_frac),
        loose_frac=each(packed_frac),
        packing_load_pa=np.array([200.0]),
        packing_exponent=np.array([0.6]),
        stirring_m2_s=np.array([stirring_m2_s]),
        hindrance_exponent=hindrance_exponent,
    )


def flat_column(*, height_m: float, count: int, acceleration_m_s2: Array | float) -> Column:
    """A straight tube of 1 cm2 in the field given at its faces, or everywhere alike."""
    area_m2 = 1e-4
    return Column(
        face_area_m2=np.full((1, count + 1), area_m2),
        face_acceleration_m_s2=np.broadcast_to(acceleration_m_s2, (1, count + 1)).astype(float),
        cell_volume_m3=np.full((1, count), area_m2 * height_m / count),
        cell_height_m=np.array([height_m / count]),
    )
