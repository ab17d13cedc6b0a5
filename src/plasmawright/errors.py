"""Every way the house says no, under one parent.

    PlasmawrightError
    ├── Refusal            a person gave something we cannot use; field, value, limit and remedy
    │   └── OutOfRange     the value lies outside the range stated for its field
    └── Refusals           several of them at once, so that a form can mark every field

Holds:   exceptions.
Imports: the standard library.
Never:   words that blame, a message without a way out.
"""

from collections.abc import Sequence

SHOWN_CHARACTERS_MAX = 60


class PlasmawrightError(Exception):
    """The parent of everything this house raises on purpose."""


def shown(value: object) -> str:
    """Return ``value`` as a person may read it back: one line, bounded, no control characters."""
    if isinstance(value, float):
        text = f"{value:.6g}"
    else:
        text = str(value)
    text = "".join(mark if mark.isprintable() else "?" for mark in text)
    if len(text) > SHOWN_CHARACTERS_MAX:
        return text[: SHOWN_CHARACTERS_MAX - 1] + "…"
    return text


class Refusal(PlasmawrightError):
    """What was given cannot be used, and what lifts it.

    Parameters
    ----------
    field
        Dotted name as it stands in the file, such as ``blood.hematocrit_frac``.
    value
        What was given; shown shortened and on one line.
    limit
        What would have been accepted, as the end of a sentence: ``it must …``.
    remedy
        The next thing to do, one imperative sentence.
    """

    def __init__(self, field: str, value: object, limit: str, remedy: str) -> None:
        self.field = field
        self.value = shown(value)
        self.limit = limit
        self.remedy = remedy
        super().__init__(f"{field} is {self.value}; {limit}. {remedy}")

    def in_step(self, number: int) -> "Refusal":
        """Return the same refusal with a step's field named as it is in a file: ``steps.rcf`` of step 0 and so on."""
        field = self.field.replace("steps.", f"steps.{number}.", 1) if self.field.startswith("steps.") else self.field
        return Refusal(field, self.value, self.limit, self.remedy)


class OutOfRange(Refusal):
    """A number outside the range stated for its field."""

    def __init__(self, field: str, value: float, low: float, high: float, remedy: str) -> None:
        super().__init__(field, value, f"it must lie between {low:g} and {high:g}", remedy)
        self.low = low
        self.high = high


class Refusals(PlasmawrightError):
    """One or more refusals found in one reading, in the order in which they stand."""

    def __init__(self, found: Sequence[Refusal]) -> None:
        self.found = tuple(found)
        super().__init__("\n".join(str(refusal) for refusal in self.found))
