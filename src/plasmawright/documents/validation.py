"""The verdict on the model as text: for a terminal, and as a page of the reference."""

from plasmawright.quality.check_model import NOTE, CaseVerdict, Verdict
from plasmawright.quality.trends import TrendVerdict

WANTED_MAE, MOONSHOT_MAE = 0.08, 0.06


def verdict_in_words(verdict: Verdict) -> str:
    """Return the verdict as lines for a terminal."""
    lines = [
        "Published numbers beside what is predicted (median, and where nine in ten would lie).",
        "A constant is the mean of the published numbers of the kind; rigid spheres are blood without its own terms.",
        "",
        f"{'case':<14} {'published':>9} {'predicted':>9} {'from':>7} {'to':>7} {'miss':>7} {'constant':>8} "
        f"{'rigid':>7} {'held out':>8}",
    ]
    lines += [_case_line(case) for case in verdict.cases]
    lines += ["", *_summary(verdict), "", "Directions, at the centre and at the ends of what was unknown:"]
    for trend in verdict.trends:
        word = "kept  " if trend.kept else "MISSED"
        lines.append(
            f"  {word} {trend.holds_at:>2} of {trend.of}  {_rows(trend)}: {trend.trend.name}{_says_other(trend)}"
        )
    lines += ["", "Not judged:", *(f"  {one.row_id}: {one.what}; {one.reason}" for one in verdict.not_judged)]
    return "\n".join([*lines, "", NOTE])


def _case_line(case: CaseVerdict) -> str:
    constant = "-" if case.constant is None else f"{case.constant:.3f}"
    mark = ("" if case.agrees else "  disagrees") + ("" if case.inside else "  outside")
    return (
        f"{case.case.id:<14} {case.case.published:>9.3f} {case.p50:>9.3f} {case.p05:>7.3f} {case.p95:>7.3f} "
        f"{case.miss:>+7.3f} {constant:>8} {_or_dash(case.rigid_spheres):>7} {case.held_out[1]:>8.3f}{mark}"
    )


def _summary(verdict: Verdict) -> list[str]:
    low, high = verdict.inside_band
    return [
        "Mean absolute error of recovery, in points of a hundred:",
        f"  this model, as shipped (fitted to these very papers)   {_points(verdict.mae)}",
        f"  this model, each group foretold from the others        {_points(verdict.mae_leave_one_group_out)}"
        f"   wanted at most {_points(WANTED_MAE)}, hoped for {_points(MOONSHOT_MAE)}",
        f"  a constant, the mean of all                            {_points(verdict.mae_constant)}",
        f"  a constant, the mean of the other groups               {_points(verdict.mae_constant_leave_one_group_out)}",
        f"  rigid spheres                                          {_points(verdict.mae_rigid_spheres)}",
        f"Inside their interval: {verdict.inside} of {len(verdict.cases)} "
        f"(honest intervals give {low} to {high}, nineteen times in twenty).",
        f"Directions kept: {sum(trend.kept for trend in verdict.trends)} of {len(verdict.trends)}.",
        f"{verdict.draws} draws, seed {verdict.seed}.",
    ]


def _points(share: float) -> str:
    return f"{100 * share:.1f}"


def _rows(trend: TrendVerdict) -> str:
    return ", ".join(trend.trend.rows)


def _says_other(trend: TrendVerdict) -> str:
    others = trend.trend.contradicts
    return f" (otherwise: {' and '.join(others)})" if others else ""


def render_validation(verdict: Verdict) -> str:
    """Return the page ``docs/reference/validation.md``."""
    missed = [case for case in verdict.cases if not case.agrees or not case.inside]
    parts = [
        "# The model held against published experiments",
        "Written by `plasmawright check-model --page docs/reference/validation.md`; do not edit by hand.",
        "Everything here is predicted against what an abstract prints; no full paper was read. " + NOTE,
        "## In short",
        "\n".join(["```text", *_summary(verdict), "```"]),
        "## Numbers",
        "`inside`: the printed number lies where nine in ten predictions do, with everything the paper does not state "
        "spread and the printed number's own spread added. `agrees`: the median stands within the tolerance written "
        "down with the case. `held out`: foretold from every other group's papers alone.",
        _cases_table(verdict),
        "## Misses among the numbers",
        "\n".join(_miss_line(case) for case in missed) or "None.",
        "## Directions",
        "`holds at`: how many of the variants go that way: the centre, and both ends of everything the paper does not "
        "state and of everything that was fitted. A direction is kept if it holds at the centre.",
        _trends_table(verdict),
        "## Not judged",
        "\n".join(f"- {one.row_id}: {one.what}. Not judged: {one.reason}." for one in verdict.not_judged) or "None.",
        "## What was fitted",
        "Shipped values beside what conditioning on every number above makes of what was believed before.",
        _fitted_table(verdict),
        "## What each case stands on",
        _assumptions(verdict),
    ]
    return "\n\n".join(parts) + "\n"


def _table(heads: list[str], rows: list[list[str]]) -> str:
    lines = ["| " + " | ".join(heads) + " |", "|" + "---|" * len(heads)]
    return "\n".join([*lines, *("| " + " | ".join(row) + " |" for row in rows)])


def _cases_table(verdict: Verdict) -> str:
    heads = ["case", "rows", "quantity", "published", "predicted", "interval", "miss", "tolerance", "agrees", "inside",
             "constant", "rigid spheres", "held out"]  # fmt: skip
    return _table(heads, [_case_row(case) for case in verdict.cases])


def _case_row(case: CaseVerdict) -> list[str]:
    tolerance = f"× {case.case.agree_within:g}" if case.case.by_fold else f"± {case.case.agree_within:g}"
    return [
        case.case.id,
        ", ".join(case.case.rows),
        f"`{case.case.quantity}`",
        f"{case.case.published:.3f}",
        f"{case.p50:.3f}",
        f"{case.p05:.3f} to {case.p95:.3f}",
        f"{case.miss:+.3f}",
        tolerance,
        "yes" if case.agrees else "**no**",
        "yes" if case.inside else "**no**",
        "none" if case.constant is None else f"{case.constant:.3f}",
        _or_dash(case.rigid_spheres),
        f"{case.held_out[1]:.3f}",
    ]


def _miss_line(case: CaseVerdict) -> str:
    how = [] if case.agrees else ["beyond its tolerance"]
    how += [] if case.inside else ["outside its interval"]
    return f"- {case.case.id}: {' and '.join(how)}, by {case.miss:+.3f}. {case.case.why}."


def _trends_table(verdict: Verdict) -> str:
    heads = ["rows", "direction", "kept", "holds at", "at the centre", "said otherwise by"]
    rows = [
        [
            _rows(trend),
            trend.trend.name,
            "yes" if trend.kept else "**no**",
            f"{trend.holds_at} of {trend.of}",
            ", ".join(f"{value:.4g}" for value in trend.values),
            ", ".join(trend.trend.contradicts),
        ]
        for trend in verdict.trends
    ]
    return _table(heads, rows)


def _fitted_table(verdict: Verdict) -> str:
    heads = ["row", "shipped", "conditioned"]
    rows = [
        [
            f"`{row.name}`",
            f"{row.shipped:.3g} ± {row.shipped_spread:.2g}",
            f"{row.conditioned:.3g} ± {row.conditioned_spread:.2g}",
        ]
        for row in verdict.fitted
    ]
    return _table(heads, rows)


def _assumptions(verdict: Verdict) -> str:
    told: dict[str, str] = {}
    for one in verdict.cases:
        case = one.case
        told[case.preparation_key] = (
            f"- {case.preparation_key}: {case.source}. Known: {case.known}. Assumed: {case.assumed}."
        )
    bases = {trend.trend.base_name: trend.trend.base for trend in verdict.trends}
    told |= {
        name: f"- directions, {name}: known: {base.known}. Assumed: {base.assumed}." for name, base in bases.items()
    }
    return "\n".join(told.values())


def _or_dash(value: float | None) -> str:
    return "-" if value is None else f"{value:.3f}"
