"""Reading published directions: plain keys and values in, checked :class:`Trends` or a refusal out."""

from collections.abc import Mapping

from plasmawright.errors import Refusal
from plasmawright.parameters.table import rows
from plasmawright.quality.expectations import TWO_QUANTITIES, Expectation, Kind
from plasmawright.quality.plain import one_of, real_of, reals_of, refuse_unknown, rows_of, table_of, text_of, texts_of
from plasmawright.quality.quantities import QUANTITIES
from plasmawright.quality.settings import changed
from plasmawright.quality.trends import Base, NotJudged, Trend, Trends

ASIDE = ("known", "assumed", "unknown")
TREND_KEYS = (
    "claim", "rows", "name", "base", "settings", "quantity", "against", "expects", "tolerance", "by", "at", "low",
    "high", "why", "contradicts",
)  # fmt: skip


def trends_from(document: Mapping[str, object], name: str) -> Trends:
    """Return the directions of a document that came from a file called ``name``.

    Raises
    ------
    Refusal
        If a key is missing, unknown or cannot be used.
    Refusals
        If one of its preparations cannot be used.
    """
    refuse_unknown(document, ("bases", "trends", "not_judged"), name)
    bodies = table_of(document, "bases", name)
    tables = {key: table_of(bodies, key, f"{name}.bases") for key in bodies}
    bases = {key: _base(body, f"{name}.bases.{key}") for key, body in tables.items()}
    found = []
    for number, row in enumerate(rows_of(document, "trends", name), start=1):
        path = f"{name}.trends.{number}"
        key = one_of(row, "base", path, allowed=tuple(bases))
        found.append(_trend(row, path, base_name=key, base=bases[key], body=tables[key]))
    return Trends(trends=tuple(found), not_judged=_not_judged(document, name))


def _not_judged(document: Mapping[str, object], name: str) -> tuple[NotJudged, ...]:
    if "not_judged" not in document:
        return ()
    return tuple(
        NotJudged(
            row_id=text_of(row, "row", f"{name}.not_judged"),
            what=text_of(row, "what", f"{name}.not_judged"),
            reason=text_of(row, "reason", f"{name}.not_judged"),
        )
        for row in rows_of(document, "not_judged", name)
    )


def _base(body: Mapping[str, object], path: str) -> Base:
    unknown = table_of(body, "unknown", path) if "unknown" in body else {}
    for key in unknown:
        if key not in rows():
            raise Refusal(f"{path}.unknown", key, "it must be a row of the tables", "Name one.")
    return Base(
        known=text_of(body, "known", path),
        assumed=text_of(body, "assumed", path),
        unknown={key: reals_of(unknown, key, f"{path}.unknown") for key in unknown},
    )


def _trend(row: Mapping[str, object], path: str, *, base_name: str, base: Base, body: Mapping[str, object]) -> Trend:
    refuse_unknown(row, TREND_KEYS, path)
    quantities = tuple(QUANTITIES)
    kind = Kind(one_of(row, "expects", path, allowed=tuple(Kind)))
    changes = rows_of(row, "settings", path)
    return Trend(
        claim=text_of(row, "claim", path),
        rows=texts_of(row, "rows", path),
        name=text_of(row, "name", path),
        base_name=base_name,
        base=base,
        settings=tuple(changed(body, change, f"{path}.settings", aside=ASIDE) for change in changes),
        labels=tuple(", ".join(f"{key} {value}" for key, value in change.items()) or "as it is" for change in changes),
        quantity=one_of(row, "quantity", path, allowed=quantities),
        against=one_of(row, "against", path, allowed=quantities) if kind in TWO_QUANTITIES else None,
        expectation=_expectation(row, kind, path, settings=len(changes)),
        why=text_of(row, "why", path),
        contradicts=texts_of(row, "contradicts", path) if "contradicts" in row else (),
    )


def _expectation(row: Mapping[str, object], kind: Kind, path: str, *, settings: int) -> Expectation:
    numbers = {key: real_of(row, key, path) for key in ("tolerance", "by", "low", "high") if key in row}
    places = tuple(int(place) for place in reals_of(row, "at", path)) if kind is Kind.PEAKS_AT else ()
    if not all(1 <= place <= settings for place in places):
        raise Refusal(f"{path}.at", places, f"each must be one of {settings} settings", "Count from 1.")
    fewest = 1 if kind is Kind.LIES_WITHIN else 2
    if settings < fewest:
        raise Refusal(f"{path}.settings", f"{settings} of them", f"there must be at least {fewest}", "Add settings.")
    return Expectation(kind=kind, at=places, **numbers)
