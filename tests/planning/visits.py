"""A visit to start from; each test changes only what it is about."""

import tomllib
from collections.abc import Mapping
from copy import deepcopy
from pathlib import Path
from typing import Any

from plasmawright.planning.reading import visit_from
from plasmawright.planning.visit import Visit

EXAMPLE: dict[str, Any] = tomllib.loads(
    (Path(__file__).parents[2] / "docs" / "examples" / "visit.toml").read_text(encoding="utf-8")
)


def visit_document(**changes: object) -> dict[str, Any]:
    """Return the example with ``section__key=value`` set; ``None`` takes the key out."""
    document: dict[str, Any] = deepcopy(EXAMPLE)
    for path, value in changes.items():
        section, _, key = path.partition("__")
        where: Any = document[section] if key else document
        name = key or section
        while "__" in name:
            outer, _, name = name.partition("__")
            where = where[int(outer)] if isinstance(where, list) else where[outer]
        if value is None:
            where.pop(name, None)
        else:
            where[name] = value
    return document


def a_visit(**changes: object) -> Visit:
    """Return the example visit with changes, read as any visit is."""
    read: Mapping[str, object] = visit_document(**changes)
    return visit_from(read)
