"""The verdict: every published number beside what is predicted, beside a constant, and beside rigid spheres."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plasmawright.errors import Refusal
from plasmawright.parameters.sets import ParameterSet, central, drawn, drawn_before_fit
from plasmawright.parameters.table import rows
from plasmawright.preparation.prediction import six_digits
from plasmawright.quality.holding_out import conditioned_rows, held_out
from plasmawright.quality.published import Case, predicted, shuffled
from plasmawright.quality.trends import NotJudged, Trends, TrendVerdict, judge_trends
from plasmawright.science.uncertainty import Belief, Shape, quantiles
from plasmawright.science.uncertainty import drawn as draw_beliefs

Array = NDArray[np.float64]

CHANCES = (0.05, 0.5, 0.95)
INTERVAL_CHANCE = 0.90
BAND_CHANCE = 0.95
# Conditioning divides by covariances of everything with everything, which takes more draws than quantiles do.
DRAWS_TO_CONDITION = 8
CONDITION_DRAWS_MAX = 2048
# Blood without its own terms: cells that neither clump, nor press plasma out, nor drag, nor are stirred.
RIGID_SPHERES = {
    "red_cell_aggregation": 1.0,
    "hindrance_exponent": 4.65,
    "platelet_expression": 0.0,
    "white_cell_entrainment": 0.0,
    "stirring_m2_per_s": 0.0,
    "platelet_mobility": 1.0,
}
NOTE = (
    "Abstracts quote their best settings and little else, and best settings recover much the same everywhere: there a "
    "constant does as well as a model or better, and says nothing of any other setting. Read the directions, the "
    "plasma's share and whether the intervals cover; the mean error of recovery alone cannot tell a model from a "
    "constant. Red and white cells are known to an order of magnitude. The published numbers cannot tell the "
    "mechanisms apart."
)


@dataclass(frozen=True, kw_only=True)
class CaseVerdict:
    """One published number against what is predicted for it.

    Parameters
    ----------
    p05, p50, p95
        With the shipped parameters, what the paper does not state spread, and the printed number's own spread added.
    constant
        The mean published number of the same kind; ``None`` where the kind has one number only.
    rigid_spheres
        The same preparation without blood's own terms, at the centre.
    held_out
        p05, p50, p95 from what was believed before the fit, conditioned on every group but the case's own.
    """

    case: Case
    p05: float
    p50: float
    p95: float
    constant: float | None
    rigid_spheres: float | None
    held_out: tuple[float, float, float]

    @property
    def miss(self) -> float:
        """Median less what was published."""
        return self.p50 - self.case.published

    @property
    def inside(self) -> bool:
        """Whether what was published lies in the interval."""
        return self.p05 <= self.case.published <= self.p95

    @property
    def agrees(self) -> bool:
        """Whether the median stands within the tolerance that was stated beforehand."""
        if self.case.by_fold:
            return max(self.p50 / self.case.published, self.case.published / self.p50) <= self.case.agree_within
        return abs(self.miss) <= self.case.agree_within

    def as_document(self) -> dict[str, object]:
        """Return the case as ``check-model --json`` prints it."""
        low, middle, high = self.held_out
        return {
            "id": self.case.id,
            "group": self.case.group,
            "rows": list(self.case.rows),
            "quantity": self.case.quantity,
            "published": self.case.published,
            "p05": six_digits(self.p05),
            "p50": six_digits(self.p50),
            "p95": six_digits(self.p95),
            "constant": None if self.constant is None else six_digits(self.constant),
            "inside": self.inside,
            "miss": six_digits(self.miss),
            "agree_within": self.case.agree_within,
            "by_fold": self.case.by_fold,
            "agrees": self.agrees,
            "why": self.case.why,
            "rigid_spheres": None if self.rigid_spheres is None else six_digits(self.rigid_spheres),
            "leave_one_group_out": {"p05": six_digits(low), "p50": six_digits(middle), "p95": six_digits(high)},
        }


@dataclass(frozen=True, kw_only=True)
class FittedRow:
    """A row of the tables that was fitted, and what conditioning on every published number makes of it."""

    name: str
    shipped: float
    shipped_spread: float
    conditioned: float
    conditioned_spread: float

    def as_document(self) -> dict[str, object]:
        """Return the row as ``check-model --json`` prints it."""
        return {
            "name": self.name,
            "shipped": self.shipped,
            "shipped_spread": self.shipped_spread,
            "conditioned": six_digits(self.conditioned),
            "conditioned_spread": six_digits(self.conditioned_spread),
        }


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """The model against the published experiments. Mean absolute errors speak of recovery, as shares."""

    cases: tuple[CaseVerdict, ...]
    trends: tuple[TrendVerdict, ...]
    not_judged: tuple[NotJudged, ...]
    fitted: tuple[FittedRow, ...]
    mae: float
    mae_leave_one_group_out: float
    mae_constant: float
    mae_constant_leave_one_group_out: float
    mae_rigid_spheres: float
    draws: int
    seed: int

    @property
    def inside(self) -> int:
        """How many published numbers lie in their interval."""
        return sum(case.inside for case in self.cases)

    @property
    def inside_band(self) -> tuple[int, int]:
        """The counts that honest intervals would give, nineteen times in twenty."""
        return binomial_band(len(self.cases), INTERVAL_CHANCE)

    def as_document(self) -> dict[str, object]:
        """Return what ``check-model --json`` prints."""
        return {
            "cases": [case.as_document() for case in self.cases],
            "mae": six_digits(self.mae),
            "mae_leave_one_group_out": six_digits(self.mae_leave_one_group_out),
            "mae_constant": six_digits(self.mae_constant),
            "mae_constant_leave_one_group_out": six_digits(self.mae_constant_leave_one_group_out),
            "mae_rigid_spheres": six_digits(self.mae_rigid_spheres),
            "inside": self.inside,
            "of": len(self.cases),
            "inside_band": list(self.inside_band),
            "trends": [entry for trend in self.trends for entry in trend.as_entries()],
            "not_judged": [one.as_document() for one in self.not_judged],
            "fitted": [row.as_document() for row in self.fitted],
            "draws": self.draws,
            "seed": self.seed,
            "note": NOTE,
        }


def judge_model(cases: tuple[Case, ...], trends: Trends, *, draws: int, seed: int) -> Verdict:
    """Hold the model against ``cases`` and ``trends``; the same seed gives the same verdict."""
    seen = with_printed_spread(cases, predicted(cases, drawn(count=draws, seed=seed)), seed=seed)
    before = drawn_before_fit(count=min(DRAWS_TO_CONDITION * draws, CONDITION_DRAWS_MAX), seed=seed)
    foreseen = predicted(cases, before)
    apart = held_out(cases, foreseen)
    rigid = _rigid(cases)
    constants, fair = constants_of(cases), constants_of(cases, without_own_group=True)
    weights = np.ones(draws)
    judged = []
    for case in cases:
        low, middle, high = (float(x) for x in quantiles(seen[case.id], weights, CHANCES))
        judged.append(
            CaseVerdict(
                case=case, p05=low, p50=middle, p95=high, constant=constants[case.id],
                rigid_spheres=rigid[case.id], held_out=apart[case.id],
            )
        )  # fmt: skip
    return Verdict(
        cases=tuple(judged),
        trends=judge_trends(trends),
        not_judged=trends.not_judged,
        fitted=_fitted(cases, foreseen, before),
        mae=_mae(cases, {one.case.id: one.p50 for one in judged}),
        mae_leave_one_group_out=_mae(cases, {one.case.id: one.held_out[1] for one in judged}),
        mae_constant=_mae(cases, constants),
        mae_constant_leave_one_group_out=_mae(cases, fair),
        mae_rigid_spheres=_mae(
            tuple(case for case in cases if rigid[case.id] is not None),
            {key: value for key, value in rigid.items() if value is not None},
        ),
        draws=draws,
        seed=seed,
    )


def _rigid(cases: tuple[Case, ...]) -> dict[str, float | None]:
    """Return what rigid spheres give in each case; ``None`` where their plasma is so red that no plan could go on."""
    found: dict[str, float | None] = {}
    for case in cases:
        try:
            found[case.id] = float(predicted((case,), rigid_spheres())[case.id][0])
        except Refusal:
            found[case.id] = None
    return found


def rigid_spheres() -> ParameterSet:
    """Return the set of one draw in which cells are rigid spheres that know nothing of each other but crowding."""
    return central().replaced(**RIGID_SPHERES)


def with_printed_spread(cases: tuple[Case, ...], values: Mapping[str, Array], *, seed: int) -> dict[str, Array]:
    """Return predictions of what would be printed: the printed number's own spread added, nothing below zero."""
    count = len(values[cases[0].id])
    errors = draw_beliefs(
        [Belief(centre=0.0, spread=case.published_spread, shape=Shape.NORMAL) for case in cases],
        count=count,
        seed=seed,
    )[shuffled(count, "printed")]
    most = {case.id: 1.0 if case.quantity.endswith("_frac") else np.inf for case in cases}
    return {case.id: np.clip(values[case.id] + errors[:, i], 0.0, most[case.id]) for i, case in enumerate(cases)}


def constants_of(cases: tuple[Case, ...], *, without_own_group: bool = False) -> dict[str, float | None]:
    """Return the mean published number of each case's kind, all recoveries being one kind.

    ``without_own_group`` leaves the case's own group out of its mean; ``None`` where nothing is left to average.
    """
    found: dict[str, float | None] = {}
    for case in cases:
        kin = [
            _as_recovery(one.quantity, one.published) if case.is_recovery else one.published
            for one in cases
            if (one.is_recovery if case.is_recovery else one.quantity == case.quantity)
            and not (without_own_group and one.group == case.group)
        ]
        alone = not kin or (len(kin) == 1 and not without_own_group)
        found[case.id] = None if alone else _as_recovery(case.quantity, float(np.mean(kin)))
    return found


def _as_recovery(quantity: str, share: float) -> float:
    """Return a share as recovery, and back: what is left is one less what is recovered."""
    return 1 - share if quantity == "first_left_frac" else share


def _mae(cases: tuple[Case, ...], foretold: Mapping[str, float | None]) -> float:
    misses = [
        abs(said - case.published) for case in cases if case.is_recovery and (said := foretold[case.id]) is not None
    ]
    return float(np.mean(misses)) if misses else 0.0


def _fitted(cases: tuple[Case, ...], foreseen: Mapping[str, Array], before: ParameterSet) -> tuple[FittedRow, ...]:
    names = tuple(name for name, row in rows().items() if row.value_before is not None and row.table == "bed")
    return tuple(
        FittedRow(
            name=name,
            shipped=rows()[name].value,
            shipped_spread=rows()[name].spread,
            conditioned=centre,
            conditioned_spread=spread,
        )
        for name, (centre, spread) in conditioned_rows(cases, foreseen, before, names=names).items()
    )


def binomial_band(count: int, chance: float) -> tuple[int, int]:
    """Return the hits between which ``count`` trials fall with at least 95 %, at most 2.5 % on either side; exact."""
    exact = [math.comb(count, k) * chance**k * (1 - chance) ** (count - k) for k in range(count + 1)]
    tail = (1 - BAND_CHANCE) / 2
    low = next(k for k in range(count + 1) if sum(exact[: k + 1]) > tail)
    high = next(k for k in range(count, -1, -1) if sum(exact[k:]) > tail)
    return low, high
