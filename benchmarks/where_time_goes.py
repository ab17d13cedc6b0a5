"""Where the time of one step of the march goes: each compiled part on its own, at the middle of a soft spin."""

from collections.abc import Callable

import numpy as np

from benchmarks.measured import Measured, best_s
from benchmarks.soft_spin import SUBLAYER_M, short_column
from plasmawright.science import settling, settling_kernel

CELLS = 100
REPEATS = 400


def measure() -> list[Measured]:
    """Measure the parts; the two stages of a step are counted twice, what is done every fourth step a quarter."""
    plain, phi, suspension, column = short_column(CELLS)
    moments = np.array([200.0])
    seen = settling.march(phi, moments, suspension=suspension, column=column, sublayer_m=SUBLAYER_M, threads=1)
    parts = _parts(plain, np.ascontiguousarray(seen[0, 0]), settling.families(suspension))
    costs_us = {}
    for name, (share, work) in parts.items():
        work()

        def many(work: Callable[[], object] = work) -> None:
            for _ in range(REPEATS):
                work()

        costs_us[name] = share * best_s(many, times=10) / REPEATS * 1e6
    whole_us = sum(costs_us.values())
    return [
        Measured(what=f"  of a step: {name}", promised="", measured=f"{cost / whole_us:.0%}")
        for name, cost in costs_us.items()
    ]


def _parts(
    plain: dict[str, np.ndarray | float], now: np.ndarray, family: np.ndarray
) -> dict[str, tuple[float, Callable[[], object]]]:
    kinds, count = now.shape
    up, low, slip, give, take = (np.zeros((kinds + 1, count)) for _ in range(5))
    flow, total = np.zeros(count + 1), np.zeros(count + 1)
    pull, red, stiff, limit = (np.zeros(count) for _ in range(4))
    changed, present = np.empty_like(now), np.full(kinds, 1e-9)
    gap = np.asarray(plain["rho"]) - plain["rho_plasma"]
    face_m2, cell_m3 = np.asarray(plain["face_m2"])[:-1].copy(), np.asarray(plain["cell_m3"])
    acceleration = np.ascontiguousarray(plain["acceleration"])
    kernel = settling_kernel
    return {
        "pairs changing places": (2, lambda: kernel._pair(slip, up, low, give, take, family)),
        "moving what they exchange": (
            2,
            lambda: kernel._exchange(
                now, up, low, give, take, limit, flow, total, pull, face_m2, cell_m3, 1 / cell_m3, 0.3, changed
            ),
        ),
        "velocities": (
            2,
            lambda: kernel._drive(
                now, low, slip, pull, red, plain["mobility"], gap, plain["expression"], plain["entrainment"],
                acceleration, limit, 1.0,
            ),
        ),
        "limited slopes": (2, lambda: kernel._reconstruct(now, up, low)),
        "packing limit": (
            0.25,
            lambda: kernel._limit_packing(
                now, gap, acceleration, plain["cell_height"], plain["packed"], plain["loose"], plain["load_pa"],
                plain["exponent"], 0.4, limit,
            ),
        ),
        "bound of the step": (
            0.25,
            lambda: kernel._fastest_per_s(now, give, take, stiff, pull, face_m2, 1 / cell_m3, present),
        ),
    }  # fmt: skip
