"""Parameter sets: joint draws of everything a prediction does not know for certain."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from plasmawright.errors import Refusal
from plasmawright.parameters.table import rows
from plasmawright.science.uncertainty import Belief
from plasmawright.science.uncertainty import drawn as draw_beliefs

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class ParameterSet:
    """Joint draws, never marginals.

    Parameters
    ----------
    origin
        ``literature``, ``fitted`` or ``learned``.
    names
        One for each column of ``draws``; those of the tables' rows.
    draws
        Shape (count, names). A set of one draw stands at the centres.
    weights
        Shape (count,), not negative, not all zero.
    setting
        Rotor, tubes and operator the set was learned for; empty means everywhere.
    """

    origin: str
    names: tuple[str, ...]
    draws: Array
    weights: Array
    setting: Mapping[str, object] = field(default_factory=dict)

    @property
    def count(self) -> int:
        """How many draws the set holds."""
        return len(self.draws)

    def column(self, name: str) -> Array:
        """Return the draws of one quantity, shape (count,)."""
        return np.ascontiguousarray(self.draws[:, self.names.index(name)])

    def replaced(self, **columns: Array | float) -> "ParameterSet":
        """Return the set with the named columns set to other values."""
        draws = self.draws.copy()
        for name, values in columns.items():
            draws[:, self.names.index(name)] = values
        return ParameterSet(
            origin=self.origin, names=self.names, draws=draws, weights=self.weights, setting=self.setting
        )

    def as_document(self) -> dict[str, object]:
        """Return the set in the form of the contract's SET.json."""
        units = [rows()[name].unit for name in self.names]
        body: dict[str, object] = {
            "origin": self.origin,
            "setting": dict(self.setting),
            "names": list(self.names),
            "units": units,
            "draws": self.draws.tolist(),
            "weights": self.weights.tolist(),
        }
        text = json.dumps(body, sort_keys=True, separators=(",", ":"), allow_nan=False)
        return {"digest": hashlib.sha256(text.encode()).hexdigest(), **body}


def central() -> ParameterSet:
    """Return the set of one draw that stands at every row's centre."""
    table = rows()
    values = np.array([[row.value for row in table.values()]])
    return ParameterSet(origin="literature", names=tuple(table), draws=values, weights=np.ones(1))


def drawn(*, count: int = 512, seed: int = 1) -> ParameterSet:
    """Return ``count`` joint draws of every row of the tables; the same for a seed on every machine."""
    return _drawn({name: row.belief for name, row in rows().items()}, count=count, seed=seed)


def drawn_before_fit(*, count: int, seed: int) -> ParameterSet:
    """Return draws of what was believed before the fit to published experiments, to judge that fit by."""
    return _drawn({name: row.belief_before_fit for name, row in rows().items()}, count=count, seed=seed)


def _drawn(beliefs: Mapping[str, Belief], *, count: int, seed: int) -> ParameterSet:
    loose = [name for name, belief in beliefs.items() if belief.is_loose]
    values = np.tile(np.array([belief.centre for belief in beliefs.values()]), (count, 1))
    columns = [list(beliefs).index(name) for name in loose]
    values[:, columns] = draw_beliefs([beliefs[name] for name in loose], count=count, seed=seed)
    return ParameterSet(origin="literature", names=tuple(beliefs), draws=values, weights=np.ones(count))


def from_document(document: Mapping[str, object], *, count: int, seed: int) -> ParameterSet:
    """Return the set of a SET.json, with everything it does not name drawn from the tables.

    Raises
    ------
    Refusal
        If the document is not a set, names an unknown quantity, or its numbers are not finite and rectangular.
    """
    try:
        names = tuple(str(name) for name in document["names"])  # type: ignore[attr-defined]
        values = np.array(document["draws"], dtype=float)
        weights = np.array(document["weights"], dtype=float)
    except (KeyError, TypeError, ValueError) as error:
        raise Refusal(
            "parameters", error, "it must hold names, draws and weights", "Use a set that was learned."
        ) from error
    if values.shape != (len(weights), len(names)) or not len(weights):
        raise Refusal("parameters.draws", values.shape, "one row a weight, one number a name", "Use a whole set.")
    if not (np.isfinite(values).all() and np.isfinite(weights).all() and weights.min() >= 0 and weights.sum() > 0):
        raise Refusal("parameters.draws", "not finite", "every number must be finite", "Use a set that was learned.")
    unknown = [name for name in names if name not in rows()]
    if unknown:
        raise Refusal("parameters.names", unknown[0], "it must be a row of the tables", "Learn the set anew.")
    base = drawn(count=count, seed=seed) if count > 1 else central()
    # systematic resampling: each learned draw stands as often as its weight says, in an order the seed fixes
    if count > 1:
        edges = np.cumsum(weights) / weights.sum()
        chosen = np.minimum(np.searchsorted(edges, (np.arange(count) + 0.5) / count), len(weights) - 1)
    columns = {
        name: values[chosen, i] if count > 1 else float(weights @ values[:, i] / weights.sum())
        for i, name in enumerate(names)
    }
    merged = base.replaced(**columns)
    setting = document.get("setting")
    return ParameterSet(
        origin=str(document.get("origin", "learned")),
        names=merged.names,
        draws=merged.draws,
        weights=merged.weights,
        setting=setting if isinstance(setting, Mapping) else {},
    )
