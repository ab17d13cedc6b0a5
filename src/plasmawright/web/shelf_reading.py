"""What was typed into a form of the Shelf, read field by field; every refusal is kept for its entry."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import TypeVar

from django.db import models

from plasmawright.errors import Refusal, Refusals
from plasmawright.web.entry import number_in

Row = TypeVar("Row", bound=models.Model)


class Reading:
    """Reads entries by name; :meth:`done` raises everything that was refused on the way."""

    def __init__(self, values: Mapping[str, str]) -> None:
        self.values = values
        self.found: list[Refusal] = []

    def text(self, name: str) -> str:
        """Return the words of an entry; empty where nothing stands, which the service judges."""
        return self.values.get(name, "")

    def flag(self, name: str) -> bool:
        """Return whether a choice between yes and no says yes."""
        return self.values.get(name) == "true"

    def number(self, name: str) -> float:
        """Return a number that must be there; 0 where it is refused."""
        read = number_in(self.values.get(name, ""))
        if isinstance(read, str):
            self._refuse(name, "it must be a number", "Write figures, with a point before the decimals.")
            return 0.0
        return float(read)

    def optional_number(self, name: str) -> float | None:
        """Return a number, or nothing where nothing stands."""
        return self.number(name) if self.values.get(name) else None

    def whole(self, name: str) -> int:
        """Return a whole number that must be there; 0 where it is refused."""
        read = number_in(self.values.get(name, ""))
        if not isinstance(read, int):
            self._refuse(name, "it must be a whole number", "Count single pieces.")
            return 0
        return read

    def day(self, name: str) -> date:
        """Return a day that must be there; the first of all days where it is refused."""
        try:
            return date.fromisoformat(self.values.get(name, ""))
        except ValueError:
            self._refuse(name, "it must be a day", "Write it as year, month, day, such as 2027-03-31.")
            return date.min

    def optional_day(self, name: str) -> date | None:
        """Return a day, or nothing where nothing stands."""
        return self.day(name) if self.values.get(name) else None

    def one_of(self, name: str, rows: Sequence[Row]) -> Row | None:
        """Return the row that was chosen; nothing where none was, or none of these."""
        return next((row for row in rows if str(row.pk) == self.values.get(name)), None)

    def required(self, name: str, rows: Sequence[Row]) -> Row:
        """Return the row that was chosen.

        Raises
        ------
        Refusals
            If none was, or none of these: nothing can be done without it.
        """
        found = self.one_of(name, rows)
        if found is None:
            self._refuse(name, "it must stand on your shelf", "Choose one, or put it on the shelf first.")
            raise Refusals(self.found)
        return found

    def done(self) -> None:
        """Raise what was refused, if anything was.

        Raises
        ------
        Refusals
            With one refusal for each entry that could not be read.
        """
        if self.found:
            raise Refusals(self.found)

    def _refuse(self, name: str, limit: str, remedy: str) -> None:
        self.found.append(Refusal(name, self.values.get(name) or "missing", limit, remedy))
