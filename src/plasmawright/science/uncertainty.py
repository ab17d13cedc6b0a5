"""Draws of uncertain quantities and what they say: shapes, quantiles and weights."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from plasmawright.science.sobol import sobol

Array = NDArray[np.float64]

# Halvings of a power: finer than any likelihood is known.
HALVINGS = 30
# Below this share of the largest draw a quantity is as good as none, and its logarithm would say more than is known.
SMALLEST_SHARE = 1e-4


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


def reweighted(weights: Array, log_likelihood: Array) -> Array:
    """Return ``weights`` times the likelihood of what was observed, with the same sum; never NaN.

    Only differences of ``log_likelihood`` (shape (draws,)) matter. Where no draw with a weight could have given what
    was observed, nothing can be told apart and the weights come back as they were.
    """
    possible = (weights > 0) & np.isfinite(log_likelihood)
    if not possible.any():
        return weights.copy()
    # in logarithms, so that neither a tiny weight nor a tiny likelihood is lost before they are compared
    raised = np.where(possible, np.log(np.where(possible, weights, 1.0)) + log_likelihood, -np.inf)
    risen = np.exp(raised - raised[possible].max())
    return np.asarray(risen * (weights.sum() / risen.sum()))


def power_carried(weights: Array, log_likelihood: Array, *, draws_min: float) -> float:
    """Return the largest power, 0 to 1, of the likelihood that leaves weights worth at least ``draws_min`` draws.

    Kish's count only falls as the power rises, so that halving finds it.
    """
    if effective_count(reweighted(weights, log_likelihood)) >= draws_min:
        return 1.0
    low, high = 0.0, 1.0
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        enough = effective_count(reweighted(weights, middle * log_likelihood)) >= draws_min
        low, high = (middle, high) if enough else (low, middle)
    return low


@dataclass(frozen=True, kw_only=True)
class Readings:
    """Numbers that were read, and what each draw expected of them.

    Parameters
    ----------
    expected
        Shape (draws, readings).
    read, error
        What was read and its standard uncertainty, shape (readings,); an infinite error says nothing.
    """

    expected: Array
    read: Array
    error: Array

    @property
    def log_likelihood(self) -> Array:
        """The logarithm of the normal likelihood of all readings, shape (draws,), up to a constant."""
        return np.asarray(-0.5 * (((self.read - self.expected) / self.error) ** 2).sum(axis=1))


@dataclass(frozen=True, kw_only=True)
class Update:
    """Draws after readings: the weights carry what they can, a linear step carries the rest.

    A likelihood is the product of its powers ``carried_frac`` and ``1 - carried_frac``. The first reweights draws as
    far as their Kish count allows. What is left is that of the same readings with wider errors, divided by the root of
    ``1 - carried_frac``, and is conditioned on in closed form: sharp readings would otherwise leave a handful of draws
    and intervals that are too narrow.
    """

    weights: Array
    carried_frac: float
    readings: Readings

    @classmethod
    def of(cls, weights: Array, readings: Readings, *, draws_min: float) -> "Update":
        """Return what ``readings`` make of draws with ``weights``, keeping a Kish count of ``draws_min``."""
        carried_frac = power_carried(weights, readings.log_likelihood, draws_min=draws_min)
        return cls(
            weights=reweighted(weights, carried_frac * readings.log_likelihood),
            carried_frac=carried_frac,
            readings=readings,
        )

    def quantiles(self, values: Array, chances: Sequence[float]) -> Array:
        """Return quantiles of a quantity (one value a draw) that is never negative, within what the draws span.

        The linear step is taken on the logarithm, where a product of factors is nearest to normal.
        """
        plain = quantiles(values, self.weights, chances)
        told = np.isfinite(self.readings.error)
        top = float(values.max())
        if self.carried_frac >= 1 or not told.any() or top <= 0:
            return plain
        scaled = np.log(np.maximum(values, top * SMALLEST_SHARE))
        mean, deviation = conditioned(
            self.readings.expected,
            observed=self.readings.read,
            noise=self.readings.error / np.sqrt(1 - self.carried_frac),
            seen=told,
            others=scaled[:, None],
            weights=self.weights,
        )
        share = self.weights / self.weights.sum()
        centre = float(share @ scaled)
        width = float(np.sqrt(share @ (scaled - centre) ** 2 / (1 - share @ share)))
        if width <= 0:
            return plain
        moved = mean[0] + (quantiles(scaled, self.weights, chances) - centre) * deviation[0] / width
        return np.asarray(np.exp(np.clip(moved, scaled.min(), scaled.max())))


def conditioned(
    predicted: Array,
    *,
    observed: Array,
    noise: Array,
    seen: NDArray[np.bool_],
    others: Array,
    weights: Array | None = None,
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
    weights
        Shape (draws,); equal when left out.
    """
    used = predicted[:, seen]
    share = np.full(len(used), 1 / len(used)) if weights is None else weights / weights.sum()
    middle, centre = share @ used, share @ others
    anomalies = used - middle
    wanted = others - centre
    # with equal shares this is the usual division by one less than the draws
    weighted = anomalies * (share / (1 - share @ share))[:, None]
    spread = anomalies.T @ weighted + np.diag(noise[seen] ** 2)
    crossed = wanted.T @ weighted
    gain = np.linalg.solve(spread, crossed.T).T
    mean = centre + gain @ (observed[seen] - middle)
    own = (share @ wanted**2) / (1 - share @ share)
    variance = own - np.einsum("qo,qo->q", gain, crossed)
    return np.asarray(mean), np.sqrt(np.maximum(variance, 0.0))
