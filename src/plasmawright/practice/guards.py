"""Numbers typed by a person are checked here before any rule of practice is applied to them."""

import math

from plasmawright.errors import OutOfRange, Refusal


def refuse_outside(field: str, value: float, *, low: float, high: float, remedy: str) -> None:
    """Refuse ``value`` unless it is finite and between ``low`` and ``high``, ends included.

    Raises
    ------
    Refusal
        If the value is not a finite number.
    OutOfRange
        If it lies outside the range.
    """
    if not math.isfinite(value):
        raise Refusal(field, value, f"it must be a number between {low:g} and {high:g}", remedy)
    if not low <= value <= high:
        raise OutOfRange(field, value, low, high, remedy)


def refuse_unless_positive(field: str, value: float, remedy: str) -> None:
    """Refuse ``value`` unless it is finite and above zero."""
    if not (math.isfinite(value) and value > 0):
        raise Refusal(field, value, "it must be a number above 0", remedy)
