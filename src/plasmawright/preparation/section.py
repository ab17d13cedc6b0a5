"""One table of a file, read field by field; what is wrong is noted and reading goes on, so that all is said at once."""

import math
from collections.abc import Iterable, Mapping
from datetime import date, datetime, time
from difflib import get_close_matches
from enum import StrEnum
from typing import TypeVar

from plasmawright.errors import Refusal, shown
from plasmawright.preparation.ranges import RANGES, Range

Choice = TypeVar("Choice", bound=StrEnum)

NAME_CHARACTERS_MAX = 40


class Section:
    """A table at ``path`` whose numbers have the ranges of ``kind``.

    A number that is refused reads as NaN: every comparison with it is false, so no later rule speaks of it a second
    time. ``found`` is shared by all sections of one reading.
    """

    def __init__(self, *, path: str, kind: str, fields: Mapping[str, object], found: list[Refusal]) -> None:
        self.path = path
        self.kind = kind
        self.fields = fields
        self.found = found

    def refuse(self, key: str, value: object, limit: str, remedy: str) -> None:
        """Note a refusal of the field ``key``."""
        self.found.append(Refusal(self.name(key), value, limit, remedy))

    def name(self, key: str) -> str:
        """Return the dotted name of a field, as it is written in refusals."""
        return f"{self.path}.{shown(key)}" if self.path else shown(key)

    def known(self, keys: Iterable[str]) -> None:
        """Refuse every key that is not one of ``keys``, naming the nearest one."""
        allowed = list(keys)
        for key in self.fields:
            if key not in allowed:
                nearest = get_close_matches(str(key)[:NAME_CHARACTERS_MAX], allowed, n=1, cutoff=0)
                where = f"[{self.path}]" if self.path else "this file"
                self.refuse(
                    str(key)[:NAME_CHARACTERS_MAX],
                    self.fields[key],
                    f"it is not a key of {where}",
                    f"The nearest known key is {nearest[0]}.",
                )

    def missing(self, key: str, remedy: str) -> None:
        """Refuse that ``key`` was left out."""
        self.refuse(key, "missing", "it must be given", remedy)

    def number(self, key: str) -> float:
        """Read a required number; NaN when it is refused."""
        value = self.optional_number(key)
        if value is None:
            self.missing(key, self._range(key).remedy)
            return math.nan
        return value

    def optional_number(self, key: str) -> float | None:
        """Read a number that may be left out; NaN when it is refused."""
        if key not in self.fields:
            return None
        return self.ranged(key, self._range(key))

    def ranged(self, key: str, allowed: Range) -> float:
        """Read a number against a range that is not its own; NaN when it is refused."""
        value = self.fields[key]
        if not isinstance(value, int | float) or isinstance(value, bool):
            self._refuse_type(key, value, "a number", _without_quotes(value))
            return math.nan
        try:
            number = float(value)
        except OverflowError:  # a whole number too long for any float
            number = math.inf if value > 0 else -math.inf
        try:
            allowed.check(self.name(key), number)
        except Refusal as refusal:
            self.found.append(refusal)
            return math.nan
        return number

    def whole(self, key: str) -> int:
        """Read a required whole number; 0 when it is refused."""
        if key not in self.fields:
            self.missing(key, self._range(key).remedy)
            return 0
        return self.optional_whole(key) or 0

    def optional_whole(self, key: str) -> int | None:
        """Read a whole number that may be left out; ``None`` also when it is refused."""
        value = self.fields.get(key)
        if isinstance(value, float) and math.isfinite(value):
            nearest = max(round(value), 1) if abs(value) < 1e6 else 1
            self._refuse_type(key, value, "a whole number", f"Write it without a point, such as {nearest}.")
            return None
        number = self.optional_number(key)
        return None if number is None or math.isnan(number) else int(number)

    def flag(self, key: str) -> bool:
        """Read true or false; false when left out or refused."""
        value = self.fields.get(key, False)
        if not isinstance(value, bool):
            self._refuse_type(key, value, "true or false", "Write true or false, without quotes.")
            return False
        return value

    def text(self, key: str, remedy: str) -> str:
        """Read a required name; empty when it is refused."""
        if key not in self.fields:
            self.missing(key, remedy)
            return ""
        value = self.fields[key]
        if not isinstance(value, str):
            self._refuse_type(key, value, "text in quotes", remedy)
            return ""
        return value

    def choice(self, key: str, choices: type[Choice], default: Choice | None = None) -> Choice | None:
        """Read one of ``choices``; left out, it is ``default`` or, without one, refused; ``None`` when refused."""
        values = [str(choice) for choice in choices]
        if key not in self.fields:
            if default is None:
                self.missing(key, f"Write one of {_listed(values)}.")
            return default
        value = self.fields[key]
        if isinstance(value, str) and value in values:
            return choices(value)
        nearest = get_close_matches(str(value)[:NAME_CHARACTERS_MAX], values, n=1, cutoff=0)[0]
        self.refuse(key, _shown(value), f"it must be one of {_listed(values)}", f'The nearest is "{nearest}".')
        return None

    def section(self, key: str, kind: str, remedy: str) -> "Section | None":
        """Read a required table inside this one; ``None`` when it is refused."""
        if key not in self.fields:
            self.missing(key, remedy)
            return None
        return self.table(key, self.fields[key], kind)

    def table(self, key: str, value: object, kind: str) -> "Section | None":
        """Take ``value`` as a table called ``key`` inside this one; ``None`` when it is not one."""
        if not isinstance(value, Mapping):
            self._refuse_type(
                key, value, "a section", f"Write [{self.name(key)}] on a line of its own, its keys below."
            )
            return None
        return Section(path=self.name(key), kind=kind, fields=value, found=self.found)

    def _range(self, key: str) -> Range:
        return RANGES[f"{self.kind}.{key}"]

    def _refuse_type(self, key: str, value: object, wanted: str, remedy: str) -> None:
        self.refuse(key, _shown(value), f"it must be {wanted}", remedy)


def _listed(values: list[str]) -> str:
    return ", ".join(f'"{value}"' for value in values)


def _shown(value: object) -> object:
    """Return what stands in the file in words: quotes around text, true and false as the file writes them."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, Mapping):
        return "a section"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, datetime | date | time):
        return f"the time {value}"
    return value


def _without_quotes(value: object) -> str:
    if isinstance(value, str):
        try:
            float(value)
        except ValueError:
            return "Write the number alone; its unit is in the key's name."
        return f"Drop the quotes: {value.strip()}."
    return "Write the number alone; its unit is in the key's name."
