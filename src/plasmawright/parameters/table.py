"""Read the tables: a row that lacks a field, or names a source that is not listed, does not load."""

import tomllib
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib.resources import files
from math import inf

from plasmawright.errors import Refusal
from plasmawright.science.uncertainty import Belief, Shape

TABLES = ("fluids", "cells", "bed", "technique", "population", "planning", "reading")
# Limits and rules of practice are no quantities of nature: nothing draws them, fits them or lists them as assumed.
RULE_TABLES = ("practice",)


class Kind(StrEnum):
    """How far a number may be trusted, from the firmest down."""

    DEFINED = "defined"
    PUBLISHED = "published"
    MEASURED = "measured"
    FITTED = "fitted"
    MEMORY = "memory"
    ASSUMED = "assumed"


@dataclass(frozen=True, kw_only=True)
class Reference:
    """Where something was read, and what of it was seen."""

    key: str
    text: str
    seen: str
    doi: str | None = None


@dataclass(frozen=True, kw_only=True)
class Sourced:
    """One number with everything that may be asked of it.

    ``value_before`` and ``spread_before`` say what was believed before the fit, in rows that were fitted to published
    experiments: whoever judges the fit starts from there.
    """

    name: str
    table: str
    value: float
    unit: str
    spread: float
    shape: Shape
    kind: Kind
    source: Reference
    locator: str
    conditions: str
    low: float = -inf
    high: float = inf
    value_before: float | None = None
    spread_before: float | None = None

    @property
    def belief(self) -> Belief:
        """What is believed about this number, ready to be drawn from."""
        return Belief(centre=self.value, spread=self.spread, shape=self.shape, low=self.low, high=self.high)

    @property
    def belief_before_fit(self) -> Belief:
        """What was believed before any fit; the same as ``belief`` where nothing was fitted."""
        value = self.value if self.value_before is None else self.value_before
        spread = self.spread if self.spread_before is None else self.spread_before
        return Belief(centre=value, spread=spread, shape=self.shape, low=self.low, high=self.high)

    @property
    def citation(self) -> str:
        """One line for a person: how it is known and where it was read."""
        return f"{self.kind}: {self.source.text}; {self.locator}"


@cache
def references() -> dict[str, Reference]:
    """Return every reference by its key."""
    text = files("plasmawright.parameters").joinpath("references.toml").read_text(encoding="utf-8")
    return {key: Reference(key=key, **row) for key, row in tomllib.loads(text).items()}


@cache
def rows() -> dict[str, Sourced]:
    """Return every row a prediction rests on, by its name.

    Raises
    ------
    Refusal
        If a row lacks a field, has one that is not known, or names a source that is not listed.
    """
    return _read(TABLES)


@cache
def rules() -> dict[str, Sourced]:
    """Return every row of the tables of practice, by its name; refuses as :func:`rows` does."""
    return _read(RULE_TABLES)


def _read(tables: tuple[str, ...]) -> dict[str, Sourced]:
    found: dict[str, Sourced] = {}
    for table in tables:
        text = files("plasmawright.parameters").joinpath("tables", f"{table}.toml").read_text(encoding="utf-8")
        for name, row in tomllib.loads(text).items():
            found[name] = _row(table, name, row)
    return found


def _row(table: str, name: str, row: dict[str, object]) -> Sourced:
    try:
        given = dict(row)
        source = references()[str(given.pop("source"))]
        shape, kind = Shape(str(given.pop("shape"))), Kind(str(given.pop("kind")))
        return Sourced(name=name, table=table, source=source, shape=shape, kind=kind, **given)  # type: ignore[arg-type]
    except (KeyError, ValueError, TypeError) as error:
        limit = "a row carries every field and a listed source"
        raise Refusal(f"{table}.{name}", error, limit, "Complete the row.") from error


def row(name: str) -> Sourced:
    """Return the row called ``name``."""
    return rows()[name]


def value(name: str) -> float:
    """Return the centre of the row called ``name``."""
    return rows()[name].value


def rule(name: str) -> Sourced:
    """Return the row of practice called ``name``."""
    return rules()[name]
