"""Published experiments as cases: what was known, what had to be assumed, what was measured, and what we predict."""

from collections.abc import Mapping
from dataclasses import dataclass
from hashlib import blake2b

import numpy as np
from numpy.typing import NDArray

from plasmawright.errors import Refusal
from plasmawright.parameters.sets import ParameterSet
from plasmawright.parameters.table import rows
from plasmawright.preparation.prediction import Outcome, predict
from plasmawright.preparation.protocol import Preparation
from plasmawright.quality.plain import number_of, one_of, refuse_unknown, rows_of, table_of, text_of, texts_of
from plasmawright.quality.quantities import QUANTITIES, RECOVERIES
from plasmawright.quality.settings import changed, read_preparation

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Case:
    """One published number.

    Parameters
    ----------
    published_spread
        One standard uncertainty of the printed number, same unit.
    agree_within
        How far off the median may stand; a factor where ``by_fold``.
    settings
        What was done; where a paper pools several settings into one number, each of them.
    spread
        Standard uncertainty, by row of the tables, of what the paper does not state.
    """

    id: str
    group: str
    rows: tuple[str, ...]
    quantity: str
    published: float
    published_spread: float
    agree_within: float
    by_fold: bool
    why: str
    known: str
    assumed: str
    source: str
    preparation_key: str
    settings: tuple[Preparation, ...]
    spread: Mapping[str, float]

    @property
    def is_recovery(self) -> bool:
        """Whether the case counts towards the mean absolute error of recovery."""
        return self.quantity in RECOVERIES


# Tables whose rows belong to one laboratory's bench and day, not to blood: independent between papers.
OF_ONE_BENCH = ("technique", "population")
# What stands beside a preparation in a published document and is not of the preparation itself.
ASIDE = ("known", "assumed", "spread", "pooled")
DOCUMENT_KEYS = ("group", "source", "locator", "preparations", "cases")
CASE_KEYS = (
    "id", "rows", "preparation", "quantity", "published", "published_spread", "agree_within", "agree_within_fold",
    "why",
)  # fmt: skip


def cases_from(documents: Mapping[str, Mapping[str, object]]) -> tuple[Case, ...]:
    """Return the cases of published documents, keyed by the name of the file each came from.

    Raises
    ------
    Refusal
        If a document lacks a key, has a value that cannot be used, names an unknown quantity or preparation, or
        repeats the id of another case.
    Refusals
        If one of its preparations cannot be used.
    """
    found: list[Case] = []
    for name, document in documents.items():
        found += _cases(document, name)
    if not found:
        raise Refusal("cases", "none", "there must be at least one published case", "Add a file with [[cases]].")
    ids = [case.id for case in found]
    for one in ids:
        if ids.count(one) > 1:
            raise Refusal("cases.id", one, "it must be the id of one case alone", "Rename one of them.")
    return tuple(found)


def _cases(document: Mapping[str, object], name: str) -> list[Case]:
    refuse_unknown(document, DOCUMENT_KEYS, name)
    group = text_of(document, "group", name)
    source = f"{text_of(document, 'source', name)}; {text_of(document, 'locator', name)}"
    bodies = table_of(document, "preparations", name)
    tables = {key: table_of(bodies, key, f"{name}.preparations") for key in bodies}
    read = {key: _settings(body, f"{name}.preparations.{key}") for key, body in tables.items()}
    found: list[Case] = []
    for number, row in enumerate(rows_of(document, "cases", name), start=1):
        path = f"{name}.cases.{number}"
        refuse_unknown(row, CASE_KEYS, path)
        key = one_of(row, "preparation", path, allowed=tuple(read))
        there = f"{name}.preparations.{key}"
        by_fold = "agree_within_fold" in row
        found.append(
            Case(
                id=text_of(row, "id", path),
                group=group,
                rows=texts_of(row, "rows", path),
                quantity=one_of(row, "quantity", path, allowed=tuple(QUANTITIES)),
                published=number_of(row, "published", path),
                published_spread=number_of(row, "published_spread", path),
                agree_within=number_of(row, "agree_within_fold" if by_fold else "agree_within", path),
                by_fold=by_fold,
                why=text_of(row, "why", path),
                known=text_of(tables[key], "known", there),
                assumed=text_of(tables[key], "assumed", there),
                source=source,
                preparation_key=f"{group}/{key}",
                settings=read[key],
                spread=_spread(tables[key], there),
            )
        )
    return found


def _settings(body: Mapping[str, object], path: str) -> tuple[Preparation, ...]:
    if "pooled" not in body:
        return (read_preparation(body, path, aside=ASIDE),)
    pooled = rows_of(body, "pooled", path)
    if not pooled:
        raise Refusal(f"{path}.pooled", "empty", "it must hold at least one setting", "Add one, or drop the key.")
    return tuple(changed(body, change, f"{path}.pooled", aside=ASIDE) for change in pooled)


def _spread(body: Mapping[str, object], path: str) -> dict[str, float]:
    if "spread" not in body:
        return {}
    spread = table_of(body, "spread", path)
    of_bench = tuple(name for name, row in rows().items() if row.table in OF_ONE_BENCH and row.spread > 0)
    for name in spread:
        if name not in of_bench:
            limit = "it must be a row of the tables that one bench does not share with others"
            raise Refusal(f"{path}.spread", name, limit, f"Choose among {', '.join(of_bench[:4])} and so on.")
    return {name: number_of(spread, name, f"{path}.spread") for name in spread}


def shuffled(count: int, name: str) -> NDArray[np.intp]:
    """Return the places 0 to ``count`` in an order that ``name`` fixes and that goes with no other name's.

    Evenly spread draws are not independent of themselves turned or made from another seed: only shuffling parts them.
    """
    lots = [blake2b(f"{name}, draw {draw}".encode(), digest_size=8).digest() for draw in range(count)]
    return np.array(sorted(range(count), key=lots.__getitem__))


def as_if_there(parameters: ParameterSet, spread: Mapping[str, float], *, paper: int) -> ParameterSet:
    """Return the draws as they are for one paper.

    What belongs to one bench is shuffled, so that papers share what belongs to blood and nothing else; and the errors
    of what the paper does not state are stretched to ``spread`` about their centre.
    """
    columns = {}
    order = shuffled(parameters.count, f"paper {paper}")
    for name in parameters.names:
        row = rows()[name]
        if row.table in OF_ONE_BENCH and row.spread > 0:
            own = parameters.column(name)[order]
            columns[name] = row.value + (own - row.value) * (spread.get(name, row.spread) / row.spread)
    return parameters.replaced(**columns)


def predicted(cases: tuple[Case, ...], parameters: ParameterSet) -> dict[str, Array]:
    """Return what is predicted for each case by its id, one value a draw; each preparation is marched once."""
    papers = sorted({case.group for case in cases})
    outcomes: dict[str, list[Outcome]] = {}
    for case in cases:
        if case.preparation_key not in outcomes:
            there = as_if_there(parameters, case.spread, paper=papers.index(case.group))
            outcomes[case.preparation_key] = [predict(setting, there) for setting in case.settings]
    return {
        case.id: np.mean([QUANTITIES[case.quantity](one) for one in outcomes[case.preparation_key]], axis=0)
        for case in cases
    }
