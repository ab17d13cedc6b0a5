"""Published directions: whether the model goes the way the paper says, in the tube and column it states."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plasmawright.parameters.sets import ParameterSet, central
from plasmawright.parameters.table import rows
from plasmawright.preparation.prediction import Outcome, predict, six_digits
from plasmawright.preparation.protocol import Preparation
from plasmawright.quality.expectations import Expectation, holds
from plasmawright.quality.quantities import QUANTITIES

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Base:
    """The experiment a direction was seen in.

    Parameters
    ----------
    unknown
        What the paper does not state: for rows of the tables, the values at the ends of what is plausible.
    """

    known: str
    assumed: str
    unknown: Mapping[str, tuple[float, ...]]


@dataclass(frozen=True, kw_only=True)
class Trend:
    """One published direction.

    Parameters
    ----------
    claim
        Its own name; several rows of a source may carry one claim, and one row several.
    settings
        The preparations it runs through, in the order in which it speaks of them.
    quantity, against
        What is watched; for some expectations a second quantity.
    contradicts
        Rows of other papers that say otherwise.
    """

    claim: str
    rows: tuple[str, ...]
    name: str
    base_name: str
    base: Base
    settings: tuple[Preparation, ...]
    labels: tuple[str, ...]
    quantity: str
    against: str | None
    expectation: Expectation
    why: str
    contradicts: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class NotJudged:
    """A published direction in something the model does not speak of."""

    row_id: str
    what: str
    reason: str

    def as_document(self) -> dict[str, object]:
        """Return it as ``check-model --json`` prints it."""
        return {"row_id": self.row_id, "what": self.what, "reason": self.reason}


@dataclass(frozen=True, kw_only=True)
class Trends:
    """Every published direction: those that are judged, and those that cannot be."""

    trends: tuple[Trend, ...]
    not_judged: tuple[NotJudged, ...]


@dataclass(frozen=True, kw_only=True)
class TrendVerdict:
    """Whether a direction is kept at the centre, and at how many ends of what was unknown.

    Parameters
    ----------
    values
        The quantity at the centre, one for each setting.
    holds_at, of
        Variants at which it holds, the centre among them.
    """

    trend: Trend
    values: tuple[float, ...]
    kept: bool
    holds_at: int
    of: int

    def as_entries(self) -> list[dict[str, object]]:
        """Return it as ``check-model --json`` prints it, once for each row that says so."""
        return [
            {
                "row_id": row,
                "name": self.trend.name,
                "kept": self.kept,
                "claim": self.trend.claim,
                "quantity": self.trend.quantity,
                "expects": self.trend.expectation.kind.value,
                "settings": list(self.trend.labels),
                "values": [six_digits(value) for value in self.values],
                "holds_at": self.holds_at,
                "of": self.of,
                "known": self.trend.base.known,
                "assumed": self.trend.base.assumed,
                "why": self.trend.why,
                "contradicts": list(self.trend.contradicts),
            }
            for row in self.trend.rows
        ]


def judge_trends(trends: Trends) -> tuple[TrendVerdict, ...]:
    """Judge each direction at the centre and at both ends of everything that was unknown, one after the other."""
    seen: dict[str, Outcome] = {}
    return tuple(_judged(trend, seen) for trend in trends.trends)


def _judged(trend: Trend, seen: dict[str, Outcome]) -> TrendVerdict:
    variants = variants_of(trend.base)
    outcomes = []
    for setting in trend.settings:
        key = f"{trend.base_name} {setting!r}"
        if key not in seen:
            seen[key] = predict(setting, variants)
        outcomes.append(seen[key])
    values = np.stack([QUANTITIES[trend.quantity](outcome) for outcome in outcomes])
    against = trend.against
    others = values if against is None else np.stack([QUANTITIES[against](outcome) for outcome in outcomes])
    held = holds(trend.expectation, values, others)
    return TrendVerdict(
        trend=trend,
        values=tuple(float(value) for value in values[:, 0]),
        kept=bool(held[0]),
        holds_at=int(held.sum()),
        of=len(held),
    )


def variants_of(base: Base) -> ParameterSet:
    """Return the centre first, then one draw at each end of each thing unknown.

    What was fitted is unknown to one standard deviation either way, whatever the paper states.
    """
    ends = dict(base.unknown)
    for name, row in rows().items():
        if row.value_before is not None and row.spread > 0:
            ends[name] = (max(row.value - row.spread, row.low), min(row.value + row.spread, row.high))
    centre = central()
    draws = [centre.draws[0]]
    for name, values in ends.items():
        for value in values:
            draws.append(centre.replaced(**{name: value}).draws[0])
    return ParameterSet(origin=centre.origin, names=centre.names, draws=np.array(draws), weights=np.ones(len(draws)))
