"""The nouns of this room: a limit, a caution and a class, each with its source and how it is known."""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from plasmawright.parameters.table import Kind, Sourced


class Status(StrEnum):
    """How binding a caution is, so that nobody takes a habit for a law."""

    CLINIC_CHOICE = "clinic's choice"
    PUBLISHED = "published"
    LABEL_LIMIT = "label limit"
    COMMON_PRACTICE = "common practice"


@dataclass(frozen=True, kw_only=True)
class Limit:
    """A number that should not be passed, in ``unit``; ``words`` say what it is a limit of."""

    value: float
    unit: str
    words: str
    source: str
    kind: Kind


@dataclass(frozen=True, kw_only=True)
class Caution:
    """One thing the clinician should weigh before going on; never a diagnosis and never an order."""

    text: str
    source: str
    status: Status

    def as_document(self) -> dict[str, str]:
        """Return the caution as the contract's JSON object."""
        return {"text": self.text, "source": self.source, "status": self.status.value}


@dataclass(frozen=True, kw_only=True)
class Given:
    """One number a class was made from, with its unit."""

    name: str
    value: float
    unit: str


@dataclass(frozen=True, kw_only=True)
class Class:
    """A product's letters under one published scheme.

    Parameters
    ----------
    scheme
        The citation of the scheme and what of it was read.
    rule
        The rule in words, printed wherever the letters are.
    boundary
        What is done at exactly a cut-off, or where the source leaves a question, and whose choice that is.
    """

    scheme: str
    letters: str
    rule: str
    boundary: str
    inputs: tuple[Given, ...]

    def as_document(self) -> dict[str, object]:
        """Return the class as a JSON object."""
        inputs = [{"name": given.name, "value": given.value, "unit": given.unit} for given in self.inputs]
        return {
            "scheme": self.scheme, "letters": self.letters, "rule": self.rule, "boundary": self.boundary,
            "inputs": inputs,
        }  # fmt: skip


def cited(row: Sourced) -> str:
    """Return one line for a person: how the rule is known, what of its source was read, and where it stands there."""
    doi = f", doi {row.source.doi}" if row.source.doi else ""
    known = row.kind.value if row.kind.value == row.source.seen else f"{row.kind} ({row.source.seen})"
    return f"{known}: {row.source.text}{doi}; {row.locator}"


def present(found: Iterable[Caution | None]) -> tuple[Caution, ...]:
    """Return the cautions that apply, in the order asked."""
    return tuple(caution for caution in found if caution is not None)
