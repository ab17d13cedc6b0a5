"""Draws of uncertain quantities and what they say: shapes, quantiles and weights."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from plasmawright.science.sobol import sobol

Array = NDArray[np.float64]


class Shape(StrEnum):
    """The shape of what is believed about a quantity."""

    FIXED = "fixed"
    NORMAL = "normal"
    LOGNORMAL = "lognormal"
    UNIFORM = "uniform"


@dataclass(frozen=True, kw_only=True)
class Belief:
    """A centre, one standard uncertainty about it in the same unit, and bounds that are never crossed.

    For ``lognormal`` the centre is the median; for ``uniform`` the half-width is the spread times the root of 3.
    """

    centre: float
    spread: float
    shape: Shape
    low: float = -np.inf
    high: float = np.inf

    @property
    def is_loose(self) -> bool:
        """Whether draws of it differ."""
        return self.spread > 0 and self.shape is not Shape.FIXED

    def at(self, chance: Array) -> Array:
        """Return the values below which the belief puts ``chance`` (each strictly between 0 and 1)."""
        if not self.is_loose:
            return np.full_like(chance, self.centre)
        if self.shape is Shape.UNIFORM:
            half = np.sqrt(3.0) * self.spread
            return np.asarray(np.clip(self.centre + half * (2 * chance - 1), self.low, self.high))
        if self.shape is Shape.LOGNORMAL:
            width = np.sqrt(np.log1p((self.spread / self.centre) ** 2))
            middle, low, high = np.log(self.centre), np.log(max(self.low, 1e-300)), np.log(self.high)
            return np.asarray(np.exp(_truncated(chance, middle, width, low, high)))
        return _truncated(chance, self.centre, self.spread, self.low, self.high)


def _truncated(chance: Array, centre: float, spread: float, low: float, high: float) -> Array:
    below, above = ndtr((low - centre) / spread), ndtr((high - centre) / spread)
    return np.asarray(centre + spread * ndtri(below + chance * (above - below)))


def drawn(beliefs: Sequence[Belief], *, count: int, seed: int) -> Array:
    """Return ``count`` evenly spread joint draws of independent beliefs, shape (count, beliefs)."""
    chances = sobol(count=count, dimensions=len(beliefs), seed=seed)
    return np.stack([belief.at(chances[:, i]) for i, belief in enumerate(beliefs)], axis=1)


def quantiles(values: Array, weights: Array, chances: Sequence[float]) -> Array:
    """Return the weighted quantiles of ``values``, by linear interpolation between mid-weights.

    With equal weights this is Hazen's rule, the i-th of n ordered values standing at (i - 1/2) / n.
    """
    order = np.argsort(values, kind="stable")
    ordered = values[order]
    share = weights[order] / weights.sum()
    middle = np.cumsum(share) - share / 2
    return np.interp(chances, middle, ordered)


def effective_count(weights: Array) -> float:
    """Return how many equal draws weighted ones are worth (Kish)."""
    return float(weights.sum() ** 2 / (weights**2).sum())


def conditioned(
    predicted: Array, *, observed: Array, noise: Array, seen: NDArray[np.bool_], others: Array
) -> tuple[Array, Array]:
    """Return mean and standard deviation of ``others`` once some predicted quantities have been observed.

    The draws are taken as samples of a joint normal distribution, which is then conditioned in closed form: far
    steadier than reweighting when many observations each rule out most draws. Callers choose scales on which normal
    is fair (logarithms of counts, log-odds of shares).

    Parameters
    ----------
    predicted
        Draws of what can be observed, shape (draws, observations).
    observed, noise
        What was read and its standard uncertainty, shape (observations,).
    seen
        Which observations to use, shape (observations,).
    others
        Draws of what is asked for, shape (draws, quantities).
    """
    used = predicted[:, seen]
    anomalies = used - used.mean(axis=0)
    wanted = others - others.mean(axis=0)
    ways = len(used) - 1
    spread = anomalies.T @ anomalies / ways + np.diag(noise[seen] ** 2)
    crossed = wanted.T @ anomalies / ways
    gain = np.linalg.solve(spread, crossed.T).T
    mean = others.mean(axis=0) + gain @ (observed[seen] - used.mean(axis=0))
    variance = wanted.var(axis=0, ddof=1) - np.einsum("qo,qo->q", gain, crossed)
    return np.asarray(mean), np.sqrt(np.maximum(variance, 0.0))
