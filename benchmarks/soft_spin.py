"""A soft spin of 3.5 mL at 100 g x 10 min on 100 cells, against an ordinary integrator at equal error."""

import time
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from benchmarks.measured import Measured, best_s
from benchmarks.plain_rates import PlainRates
from plasmawright.parameters import sets
from plasmawright.preparation.protocol import Blood, Bottom, Collection, Preparation, Rotor, TubeKind
from plasmawright.preparation.sample import filled_m3, sample_of, suspension_of, tube_of
from plasmawright.science import cells, settling, settling_kernel
from plasmawright.science.rotor import speed_rad_s

Array = NDArray[np.float64]

SECONDS = 600.0
FORCE = 100.0
BOTTOM_M = 0.16
SUBLAYER_M = 1e-3


def short_column(count: int) -> tuple[dict[str, Array | float], Array, settling.Suspension, settling.Column]:
    """Return one draw of the 3.5 mL column on ``count`` cells, and the same as plain arrays."""
    preparation = Preparation(
        blood=Blood(hematocrit_frac=0.42, platelets_1e9_per_l=250),
        collection=Collection(tubes=1, blood_ml=3.0, anticoagulant_ml=0.5, tube="a"),
        rotor=Rotor(bottom_radius_mm=160, max_rcf=3000),
        tubes={"a": TubeKind(inner_diameter_mm=13, bottom=Bottom.ROUND, capacity_ml=11)},
        steps=(),
    )
    parameters = sets.central()
    sample = sample_of(preparation, parameters)
    suspension = suspension_of(sample, parameters)
    content = cells.fill(
        tube_of(preparation.tubes["a"], parameters),
        filled_m3=filled_m3(sample, preparation.collection),
        amounts_m3=sample.per_tube_m3,
        cells=count,
    )
    one = np.ones(1)
    field = cells.Field(
        bottom_radius_m=BOTTOM_M * one,
        speed_rad_s=speed_rad_s(relative_force=FORCE, radius_m=BOTTOM_M) * one,
        lean=one,
        pace=one,
    )
    column = cells.column_of(content, field)
    plain: dict[str, Array | float] = {
        "mobility": suspension.mobility_m2_per_pa_s[0],
        "rho": suspension.density_kg_m3[0],
        "rho_plasma": float(suspension.plasma_density_kg_m3[0]),
        "expression": suspension.expression[0],
        "entrainment": suspension.entrainment[0],
        "packed": suspension.packed_frac[0],
        "loose": suspension.loose_frac[0],
        "load_pa": float(suspension.packing_load_pa[0]),
        "exponent": float(suspension.packing_exponent[0]),
        "stirring": float(suspension.stirring_m2_s[0]),
        "sublayer_m": SUBLAYER_M,
        "face_m2": column.face_area_m2[0],
        "acceleration": column.face_acceleration_m_s2[0, :-1],
        "cell_m3": column.cell_volume_m3[0],
        "cell_height": float(column.cell_height_m[0]),
    }
    return plain, content.phi, suspension, column


def marched(count: int) -> Callable[[], Array]:
    """Return the compiled march as something to call."""
    _, phi, suspension, column = short_column(count)

    def run() -> Array:
        moments = np.array([SECONDS])
        seen = settling.march(phi, moments, suspension=suspension, column=column, sublayer_m=SUBLAYER_M, threads=1)
        return np.asarray(seen[0, 0])

    return run


def measure() -> list[Measured]:
    """Measure the march, and the ordinary integrator driving the same equations plainly and compiled."""
    run = marched(100)
    run()
    reference = marched(1600)().reshape(-1, 100, 16).mean(axis=2)
    ours_s, ours = best_s(run, times=30), run()
    plain, phi, suspension, _ = short_column(100)

    def error(found: Array) -> float:
        return float(np.abs(found - reference).sum() / reference.sum())

    rows = [
        Measured(
            what="soft spin, 100 cells, 7 kinds (ms)",
            promised="at most 4",
            measured=f"{ours_s * 1e3:.2f}",
            kept=ours_s <= 4e-3,
        ),
        Measured(what="  its L1 error against 1600 cells", promised="", measured=f"{error(ours):.4f}"),
    ]
    for name, rates, promised in (
        ("numpy rates", PlainRates(plain, phi[0]), 120.0),
        ("compiled rates", compiled_rates(plain, phi[0], settling.families(suspension)), None),
    ):
        tolerance, found, took_s = 1e-2, np.full_like(ours, np.inf), 0.0
        while error(found) > error(ours) * 1.001 and tolerance > 1e-9:
            tolerance /= 10
            began = time.perf_counter()
            solved = solve_ivp(
                rates, (0, SECONDS), phi[0].ravel(), method="RK45", rtol=tolerance, atol=tolerance * 1e-3
            )
            took_s = time.perf_counter() - began
            found = solved.y[:, -1].reshape(phi[0].shape)
        rows.append(
            Measured(
                what=f"  times faster than scipy RK45 on {name} (rtol {tolerance:.0e}, L1 {error(found):.4f})",
                promised="" if promised is None else f"at least {promised:g}",
                measured=f"{took_s / ours_s:.0f}",
                kept=None if promised is None else took_s / ours_s >= promised,
            )
        )
    return rows


def compiled_rates(
    plain: dict[str, Array | float], phi: Array, family: NDArray[np.int64]
) -> Callable[[float, Array], Array]:
    """Return the same rates from the march's own compiled parts, so that only the integrator differs."""
    kinds, count = phi.shape
    rows = [np.zeros((kinds + 1, count)) for _ in range(5)]
    up, low, slip, give, take = rows
    pull, red, limit = (np.zeros(count) for _ in range(3))
    gap = np.asarray(plain["rho"]) - plain["rho_plasma"]
    face_m2, cell_m3 = np.asarray(plain["face_m2"])[:-1].copy(), np.asarray(plain["cell_m3"])
    acceleration = np.ascontiguousarray(plain["acceleration"])
    helper = PlainRates(plain, phi)

    def rates(_time_s: float, flat: Array) -> Array:
        now = np.ascontiguousarray(flat.reshape(kinds, count))
        settling_kernel._limit_packing(
            now, gap, acceleration, plain["cell_height"], plain["packed"], plain["loose"], plain["load_pa"],
            plain["exponent"], helper.floor, limit,
        )  # fmt: skip
        settling_kernel._reconstruct(now, up, low)
        settling_kernel._drive(
            now, low, slip, pull, red, plain["mobility"], gap, plain["expression"], plain["entrainment"], acceleration,
            limit, 1.0,
        )  # fmt: skip
        settling_kernel._pair(slip, up, low, give, take, family)
        down = np.zeros((kinds, count + 1))
        flow = give[:kinds, 1:] * up[:kinds, 1:] - take[:kinds, 1:] * low[:kinds, 1:]
        down[:, 1:count] = flow * face_m2[1:]
        helper._stir(now, down)
        return np.asarray(((down[:, :-1] - down[:, 1:]) / cell_m3).ravel())

    return rates
