"""Keys and values of a published document, each read with a refusal that says where it stands."""

import math
from collections.abc import Mapping
from difflib import get_close_matches

from plasmawright.errors import Refusal

REMEDY = "Compare it with a file of the product's own."


def _given(table: Mapping[str, object], key: str, path: str) -> object:
    if key not in table:
        raise Refusal(f"{path}.{key}", "missing", "it must be there", REMEDY)
    return table[key]


def refuse_unknown(table: Mapping[str, object], allowed: tuple[str, ...], path: str) -> None:
    """Refuse keys that are not ``allowed``, naming the nearest that is."""
    for key in table:
        if key not in allowed:
            near = get_close_matches(key, allowed, n=1)
            remedy = f"Did you mean {near[0]}?" if near else f"Known are {', '.join(allowed)}."
            raise Refusal(f"{path}.{key}", "unknown", "only known keys may stand here", remedy)


def text_of(table: Mapping[str, object], key: str, path: str) -> str:
    """Return a text that is not empty."""
    value = _given(table, key, path)
    if not isinstance(value, str) or not value.strip():
        raise Refusal(f"{path}.{key}", value, "it must be text", REMEDY)
    return value


def texts_of(table: Mapping[str, object], key: str, path: str) -> tuple[str, ...]:
    """Return a list of texts."""
    value = _given(table, key, path)
    if not isinstance(value, list) or not value or not all(isinstance(one, str) for one in value):
        raise Refusal(f"{path}.{key}", value, "it must be a list of texts", REMEDY)
    return tuple(value)


def one_of(table: Mapping[str, object], key: str, path: str, *, allowed: tuple[str, ...]) -> str:
    """Return a text that must be one of ``allowed``."""
    value = text_of(table, key, path)
    if value not in allowed:
        near = get_close_matches(value, allowed, n=1) or list(allowed[:1])
        raise Refusal(
            f"{path}.{key}", value, "it must be a known one", f"Did you mean {near[0] if near else 'another'}?"
        )
    return value


def _real(value: object, path: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise Refusal(path, value, "it must be a finite number", REMEDY)
    return float(value)


def real_of(table: Mapping[str, object], key: str, path: str) -> float:
    """Return a finite number."""
    return _real(_given(table, key, path), f"{path}.{key}")


def number_of(table: Mapping[str, object], key: str, path: str) -> float:
    """Return a finite number above zero."""
    value = real_of(table, key, path)
    if value <= 0:
        raise Refusal(f"{path}.{key}", value, "it must be above 0", REMEDY)
    return value


def reals_of(table: Mapping[str, object], key: str, path: str) -> tuple[float, ...]:
    """Return a list of finite numbers."""
    value = _given(table, key, path)
    if not isinstance(value, list) or not value:
        raise Refusal(f"{path}.{key}", value, "it must be a list of numbers", REMEDY)
    return tuple(_real(one, f"{path}.{key}") for one in value)


def table_of(table: Mapping[str, object], key: str, path: str) -> Mapping[str, object]:
    """Return a table of keys and values."""
    value = _given(table, key, path)
    if not isinstance(value, dict):
        raise Refusal(f"{path}.{key}", value, "it must be a table of keys and values", REMEDY)
    return value


def rows_of(table: Mapping[str, object], key: str, path: str) -> list[Mapping[str, object]]:
    """Return a list of tables."""
    value = _given(table, key, path)
    if not isinstance(value, list) or not all(isinstance(one, dict) for one in value):
        raise Refusal(f"{path}.{key}", value, "it must be a list of tables", REMEDY)
    return value
