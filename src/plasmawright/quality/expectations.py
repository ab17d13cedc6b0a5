"""The ways a published direction can go, and whether numbers go that way."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Truths = NDArray[np.bool_]


class Kind(StrEnum):
    """What is expected of a quantity over the settings, in their order."""

    RISES = "rises"
    FALLS = "falls"
    LEVEL = "level"
    MOVES = "moves"
    PEAKS_AT = "peaks at"
    PEAKS_BEFORE = "peaks before"
    CORRELATES = "correlates with"
    FALLS_WITH = "falls with"
    LIES_WITHIN = "lies within"


TWO_QUANTITIES = (Kind.PEAKS_BEFORE, Kind.CORRELATES, Kind.FALLS_WITH)


@dataclass(frozen=True, kw_only=True)
class Expectation:
    """One expectation with its numbers.

    Parameters
    ----------
    tolerance
        A step the wrong way up to this is forgiven; for ``level``, the whole range allowed; for ``peaks at``, how far
        below the best the named settings may stand. In the quantity's unit.
    by
        The least change over all settings for ``rises``, ``falls`` and ``moves``, in the quantity's unit; for
        ``correlates with``, the least coefficient of correlation.
    at
        For ``peaks at``: the settings that may be best, counted from 1.
    low, high
        For ``lies within``: bounds for every setting.
    """

    kind: Kind
    tolerance: float = 0.0
    by: float = 0.0
    at: tuple[int, ...] = ()
    low: float = -np.inf
    high: float = np.inf


def holds(expectation: Expectation, values: Array, others: Array) -> Truths:
    """Return whether each variant goes as expected.

    Parameters
    ----------
    values, others
        The quantity and, where the expectation speaks of two, the other; shape (settings, variants).
    """
    return _JUDGES[expectation.kind](expectation, values, others)


def _rises(expectation: Expectation, values: Array, _others: Array) -> Truths:
    steps = np.diff(values, axis=0)
    change = values[-1] - values[0]
    return np.asarray((steps >= -expectation.tolerance).all(axis=0) & (change > expectation.by))


def _falls(expectation: Expectation, values: Array, others: Array) -> Truths:
    return _rises(expectation, -values, others)


def _level(expectation: Expectation, values: Array, _others: Array) -> Truths:
    return np.asarray(np.ptp(values, axis=0) <= expectation.tolerance)


def _moves(expectation: Expectation, values: Array, _others: Array) -> Truths:
    return np.asarray(np.ptp(values, axis=0) >= expectation.by)


def _peaks_at(expectation: Expectation, values: Array, _others: Array) -> Truths:
    named = values[[place - 1 for place in expectation.at]].max(axis=0)
    return np.asarray(named >= values.max(axis=0) - expectation.tolerance)


def _peaks_before(_expectation: Expectation, values: Array, others: Array) -> Truths:
    return np.asarray(values.argmax(axis=0) < others.argmax(axis=0))


def _correlates(expectation: Expectation, values: Array, others: Array) -> Truths:
    mine, theirs = values - values.mean(axis=0), others - others.mean(axis=0)
    size = np.sqrt((mine**2).sum(axis=0) * (theirs**2).sum(axis=0))
    return np.asarray((mine * theirs).sum(axis=0) >= expectation.by * size)


def _falls_with(expectation: Expectation, values: Array, others: Array) -> Truths:
    ordered = np.take_along_axis(values, np.argsort(others, axis=0, kind="stable"), axis=0)
    return _falls(expectation, ordered, others)


def _lies_within(expectation: Expectation, values: Array, _others: Array) -> Truths:
    return np.asarray(((values >= expectation.low) & (values <= expectation.high)).all(axis=0))


_JUDGES: Mapping[Kind, Callable[[Expectation, Array, Array], Truths]] = {
    Kind.RISES: _rises,
    Kind.FALLS: _falls,
    Kind.LEVEL: _level,
    Kind.MOVES: _moves,
    Kind.PEAKS_AT: _peaks_at,
    Kind.PEAKS_BEFORE: _peaks_before,
    Kind.CORRELATES: _correlates,
    Kind.FALLS_WITH: _falls_with,
    Kind.LIES_WITHIN: _lies_within,
}
