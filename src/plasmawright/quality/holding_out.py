"""What each paper's numbers would be foretold to be from everybody else's, and what all of them say of the tables."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, logit

from plasmawright.parameters.sets import ParameterSet
from plasmawright.parameters.table import rows
from plasmawright.quality.published import Case
from plasmawright.science.uncertainty import Shape, conditioned

Array = NDArray[np.float64]

# Shares are told apart on log-odds; nearer to nothing or all than this, no counter could.
SHARE_MIN, SHARE_MAX = 0.002, 0.998
AMOUNT_MIN = 1e-6
ONE_SIDED_95 = 1.6449


def _is_share(case: Case) -> bool:
    return case.quantity.endswith("_frac")


def _on_scale(case: Case, values: Array | float) -> Array:
    """Return values on the scale on which normal is fair: log-odds of shares, logarithms of counts."""
    if _is_share(case):
        return np.asarray(logit(np.clip(values, SHARE_MIN, SHARE_MAX)))
    return np.log(np.maximum(values, AMOUNT_MIN))


def _back(case: Case, value: float) -> float:
    return float(expit(value)) if _is_share(case) else float(np.exp(value))


def _printed_spread(case: Case) -> float:
    """Return the printed number's own standard uncertainty, on the case's scale."""
    return case.published_spread / _slope(case)


def _slope(case: Case) -> float:
    return case.published * (1 - case.published) if _is_share(case) else case.published


def _noise(case: Case) -> float:
    """Return how far the model may stand from the printed number, on the case's scale.

    The tolerance stated with the case is read as two standard deviations of what the model leaves out.
    """
    left_out = np.log(case.agree_within) / 2 if case.by_fold else case.agree_within / 2 / _slope(case)
    return float(np.hypot(left_out, _printed_spread(case)))


def held_out(cases: tuple[Case, ...], foreseen: Mapping[str, Array]) -> dict[str, tuple[float, float, float]]:
    """Return p05, p50, p95 of each case by its id, as every other group foretells it.

    Parameters
    ----------
    foreseen
        Predictions from what was believed before any fit, by the case's id, shape (draws,).
    """
    values = np.stack([_on_scale(case, foreseen[case.id]) for case in cases], axis=1)
    observed = np.array([float(_on_scale(case, case.published)) for case in cases])
    noise = np.array([_noise(case) for case in cases])
    # Log-odds of a share that presses against its bound stay skewed; medians are told, so medians are the centres.
    skew = np.median(values, axis=0) - values.mean(axis=0)
    found: dict[str, tuple[float, float, float]] = {}
    for i, case in enumerate(cases):
        others = np.array([one.group != case.group for one in cases])
        if others.any():
            mean, spread = conditioned(
                values, observed=observed - skew, noise=noise, seen=others, others=values[:, i : i + 1]
            )
        else:
            mean, spread = values[:, i : i + 1].mean(axis=0), values[:, i : i + 1].std(axis=0, ddof=1)
        reach = ONE_SIDED_95 * float(np.hypot(spread[0], _printed_spread(case)))
        centre = float(mean[0] + skew[i])
        found[case.id] = (_back(case, centre - reach), _back(case, centre), _back(case, centre + reach))
    return found


def conditioned_rows(
    cases: tuple[Case, ...], foreseen: Mapping[str, Array], before: ParameterSet, *, names: tuple[str, ...]
) -> dict[str, tuple[float, float]]:
    """Return centre and standard uncertainty of rows of the tables once every case has been seen.

    For a row believed to be log-normal the centre is the median, as in the tables.
    """
    values = np.stack([_on_scale(case, foreseen[case.id]) for case in cases], axis=1)
    lognormal = np.array([rows()[name].shape is Shape.LOGNORMAL for name in names])
    draws = np.stack([before.column(name) for name in names], axis=1)
    draws[:, lognormal] = np.log(draws[:, lognormal])
    mean, spread = conditioned(
        values,
        observed=np.array([float(_on_scale(case, case.published)) for case in cases]),
        noise=np.array([_noise(case) for case in cases]),
        seen=np.ones(len(cases), dtype=bool),
        others=draws,
    )
    found = {}
    for i, name in enumerate(names):
        if lognormal[i]:
            found[name] = (float(np.exp(mean[i])), float(np.exp(mean[i]) * np.sqrt(np.expm1(spread[i] ** 2))))
        else:
            found[name] = (float(mean[i]), float(spread[i]))
    return found
