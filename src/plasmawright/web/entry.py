"""Entries of a form: what a field is, what stands in it, and the sentences that refuse it.

A field is named as it stands in a file, dotted, so that a refusal finds its entry.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from plasmawright.errors import Refusal

Number = int | float


@dataclass(frozen=True, kw_only=True)
class Choice:
    """One answer to a question with few answers."""

    value: str
    label: str


@dataclass(frozen=True, kw_only=True)
class Field:
    """One entry of the form.

    Parameters
    ----------
    start
        What it holds before anybody changed it.
    when_empty
        What stands in when it is left empty, which leaves the key out; shown in the empty field.
    inputmode
        What the on-screen keyboard offers: ``decimal`` for numbers, ``text`` for words, ``date`` for a day.
    hint
        A few words under the label.
    """

    name: str
    label: str
    unit: str = ""
    start: str = ""
    when_empty: str = ""
    choices: tuple[Choice, ...] = ()
    inputmode: str = "decimal"
    hint: str = ""


@dataclass(frozen=True, kw_only=True)
class Group:
    """Fields that belong together; a folded group opens when one of its fields is refused."""

    title: str
    fields: tuple[Field, ...]
    folded: str = ""
    hint: str = ""


@dataclass(frozen=True, kw_only=True)
class Entry:
    """A field with what was entered, and why it was refused."""

    field: Field
    value: str
    refusals: tuple[str, ...]

    @property
    def id(self) -> str:
        """Return the element's id in the page."""
        return self.field.name.replace(".", "-")


@dataclass(frozen=True, kw_only=True)
class Entries:
    """A group with what was entered."""

    title: str
    folded: str
    hint: str
    entries: tuple[Entry, ...]

    @property
    def refused(self) -> bool:
        """Return whether one of the entries was refused."""
        return any(entry.refusals for entry in self.entries)


Sentences = Mapping[str, tuple[str, ...]]


def sentences_of(refused: Iterable[Refusal]) -> Sentences:
    """Return the sentences of each refused field."""
    found: dict[str, tuple[str, ...]] = {}
    for refusal in refused:
        found[refusal.field] = (*found.get(refusal.field, ()), str(refusal))
    return found


def shown_entry(field: Field, values: Mapping[str, str], sentences: Sentences) -> Entry:
    """Return a field as the page shows it, beside the sentences that refuse it."""
    return Entry(field=field, value=values.get(field.name, ""), refusals=sentences.get(field.name, ()))


def shown_group(group: Group, values: Mapping[str, str], sentences: Sentences) -> Entries:
    """Return a group as the page shows it."""
    return Entries(
        title=group.title,
        folded=group.folded,
        hint=group.hint,
        entries=tuple(shown_entry(field, values, sentences) for field in group.fields),
    )


def value_in(field: Field, text: str) -> object:
    """Return what ``text`` says in the field's own type, or the text itself for the reader to refuse."""
    if field.choices:
        return {"true": True, "false": False}.get(text, text)
    return number_in(text) if field.inputmode == "decimal" else text


def number_in(text: str) -> Number | str:
    """Return the number that ``text`` spells, or the text itself for the reader to refuse."""
    for kind in (int, float):
        try:
            return kind(text)
        except ValueError:
            continue
    return text


def text_of(value: object) -> str:
    """Return how a value of a document is typed; the inverse of :func:`value_in`."""
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value)


def table_at(document: dict[str, object], path: Iterable[str]) -> dict[str, object]:
    """Return the table at ``path``, made where it is missing."""
    for name in path:
        table = document.setdefault(name, {})
        if not isinstance(table, dict):
            raise TypeError(f"{name} is no table")
        document = table
    return document
