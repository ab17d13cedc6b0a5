"""The same semi-discretisation written plainly in numpy, for an ordinary integrator to drive.

It stands here and not in the product: it is what the compiled march is measured against.
"""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


class PlainRates:
    """d(phi)/dt of one column, kinds by cells, flattened for an integrator.

    Parameters
    ----------
    work
        One draw's column and suspension, as :func:`benchmarks.soft_spin.short_column` makes it.
    """

    def __init__(self, work: dict[str, Array | float], phi: Array) -> None:
        self.work = work
        self.shape = phi.shape
        self.floor = float(phi.sum(axis=0).max()) + 0.02
        cell_m3 = np.asarray(work["cell_m3"])
        self.half = 0.5 * float(phi[0] @ cell_m3 / cell_m3.sum())

    def __call__(self, _time_s: float, flat: Array) -> Array:
        """Return the rates at ``flat``."""
        work = self.work
        phi = flat.reshape(self.shape)
        kinds, cells = phi.shape
        gap = np.asarray(work["rho"]) - work["rho_plasma"]
        pull = np.asarray(work["acceleration"])
        face_m2, cell_m3 = np.asarray(work["face_m2"]), np.asarray(work["cell_m3"])
        limit = self._limits(phi, gap, pull)
        up, low = self._sides(phi)
        crowd = np.minimum(np.maximum(phi.sum(axis=0), 1 - low[kinds]), 1.0)
        drive = pull * np.maximum(1 - (crowd / limit) ** 8, 0) * (1 - crowd)
        extra = gap @ low[:kinds]
        red = np.asarray(work["mobility"])[0] * drive * (gap[0] - extra) * low[0]
        slip = np.zeros((kinds + 1, cells))
        for i in range(kinds):
            carry = np.asarray(work["entrainment"])[i] / (low[0] + 0.05) - np.asarray(work["expression"])[i]
            slip[i] = np.asarray(work["mobility"])[i] * drive * (gap[i] - extra) + carry * red
        flow = np.zeros((kinds + 1, cells))
        for i in range(kinds):
            for k in range(i + 1, kinds + 1):
                if k < kinds and self._one_family(i, k):
                    continue
                ahead = np.maximum(slip[i] - slip[k], 0)
                behind = np.maximum(slip[k] - slip[i], 0)
                net = ahead * up[i] * low[k] - behind * low[i] * up[k]
                flow[i] += net
                flow[k] -= net
        down = np.zeros((kinds, cells + 1))
        down[:, 1:cells] = flow[:kinds, 1:] * face_m2[1:cells]
        self._stir(phi, down)
        return ((down[:, :-1] - down[:, 1:]) / cell_m3).ravel()

    def _one_family(self, i: int, k: int) -> bool:
        """Return whether two kinds are both platelets or both white cells, which the march lets pass each other."""
        both = (np.asarray(self.work["expression"])[[i, k]] > 0).all()
        return bool(both or (np.asarray(self.work["entrainment"])[[i, k]] > 0).all())

    def _limits(self, phi: Array, gap: Array, pull: Array) -> Array:
        work = self.work
        packed, loose = np.asarray(work["packed"]), np.asarray(work["loose"])
        here = np.maximum(gap @ phi, 0) * pull * work["cell_height"]
        load = np.cumsum(here) - 0.5 * here
        relief = (1 + load / work["load_pa"]) ** -np.asarray(work["exponent"])
        total = phi.sum(axis=0)
        weighted = packed @ phi - (packed - loose) @ phi * relief
        return np.where(total > 1e-12, np.maximum(weighted / np.maximum(total, 1e-300), self.floor), packed[0])

    def _sides(self, phi: Array) -> tuple[Array, Array]:
        kinds, cells = phi.shape
        up, low = np.zeros((kinds + 1, cells)), np.zeros((kinds + 1, cells))
        before = np.diff(phi, axis=1)[:, :-1]
        after = np.diff(phi, axis=1)[:, 1:]
        both = before + after
        half = np.maximum(before * after, 0) * both / (both**2 + 1e-300)
        up[:kinds, 1] = phi[:, 0]
        up[:kinds, 2:] = phi[:, 1:-1] + half
        low[:kinds, 0], low[:kinds, -1] = phi[:, 0], phi[:, -1]
        low[:kinds, 1:-1] = phi[:, 1:-1] - half
        up[kinds], low[kinds] = 1 - up[:kinds].sum(axis=0), 1 - low[:kinds].sum(axis=0)
        return up, low

    def _stir(self, phi: Array, down: Array) -> None:
        work = self.work
        reached = np.flatnonzero(phi[0] >= self.half)
        if not len(reached):
            return
        still = max(int(np.ceil(float(work["sublayer_m"]) / float(work["cell_height"]))), 1)
        stirred = int(reached[0]) - still
        if stirred < 2:
            return
        pace = float(work["stirring"]) / float(work["cell_height"])
        faces = slice(1, stirred)
        down[:, faces] -= pace * np.asarray(work["face_m2"])[faces] * (phi[:, 1:stirred] - phi[:, : stirred - 1])
