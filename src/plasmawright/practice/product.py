"""The cells of a product, kept apart from the letters so that a slip of units is caught before any rule is applied.

Red cells are 1e12/L and white cells 1e9/L. A number that a person typed must lie in a range narrower than a factor of a
thousand, so that no true number and its slip can both pass; none at all is written 0.
"""

from dataclasses import dataclass
from enum import StrEnum

from plasmawright.errors import Refusal
from plasmawright.practice.guards import refuse_outside
from plasmawright.practice.statements import Given
from plasmawright.practice.units import PLATELETS_REMEDY, checked_product_platelets_1e9_per_l

RED_CELLS_1E12_PER_L = (0.003, 2.5)
WHITE_CELLS_1E9_PER_L = (0.1, 90.0)
RED_CELLS_REMEDY = "Red cells are in 1e12/L: 100 x10^9/L, or 100 000/µL, is 0.1; write 0 if none were found."
WHITE_CELLS_REMEDY = "White cells are in 1e9/L: 5000/µL is 5; write 0 if fewer than 0.1 were found."


class Activation(StrEnum):
    """Whether something was added to activate the platelets before injection."""

    NONE = "not activated"
    ADDED = "activated"


@dataclass(frozen=True, kw_only=True)
class ProductCells:
    """A product's cells, counted or predicted; whoever prints them says which.

    A prediction comes from the model in known units and may be as small as it likes; what a person typed comes in
    through :func:`counted_cells`.

    Raises
    ------
    OutOfRange
        If a number is negative or more than a plasma product can hold.
    """

    platelets_1e9_per_l: float
    red_cells_1e12_per_l: float
    white_cells_1e9_per_l: float

    def __post_init__(self) -> None:
        platelets, red, white = self.platelets_1e9_per_l, self.red_cells_1e12_per_l, self.white_cells_1e9_per_l
        refuse_outside("platelets_1e9_per_l", platelets, low=0, high=10_000, remedy=PLATELETS_REMEDY)
        refuse_outside("red_cells_1e12_per_l", red, low=0, high=RED_CELLS_1E12_PER_L[1], remedy=RED_CELLS_REMEDY)
        refuse_outside("white_cells_1e9_per_l", white, low=0, high=WHITE_CELLS_1E9_PER_L[1], remedy=WHITE_CELLS_REMEDY)

    def given(self) -> tuple[Given, ...]:
        """Return the three numbers with their units."""
        return (
            Given(name="platelets", value=self.platelets_1e9_per_l, unit="1e9/L"),
            Given(name="red cells", value=self.red_cells_1e12_per_l, unit="1e12/L"),
            Given(name="white cells", value=self.white_cells_1e9_per_l, unit="1e9/L"),
        )


def counted_cells(
    *, platelets_1e9_per_l: float, red_cells_1e12_per_l: float, white_cells_1e9_per_l: float
) -> ProductCells:
    """Return a product's cells as a person typed them.

    Raises
    ------
    OutOfRange
        If a number lies where only a slip of units can have put it.
    """
    checked_product_platelets_1e9_per_l(platelets_1e9_per_l)
    _refuse_below("red_cells_1e12_per_l", red_cells_1e12_per_l, RED_CELLS_1E12_PER_L, RED_CELLS_REMEDY)
    _refuse_below("white_cells_1e9_per_l", white_cells_1e9_per_l, WHITE_CELLS_1E9_PER_L, WHITE_CELLS_REMEDY)
    return ProductCells(
        platelets_1e9_per_l=platelets_1e9_per_l,
        red_cells_1e12_per_l=red_cells_1e12_per_l,
        white_cells_1e9_per_l=white_cells_1e9_per_l,
    )


def _refuse_below(field: str, value: float, between: tuple[float, float], remedy: str) -> None:
    low, high = between
    if 0 < value < low:
        raise Refusal(field, value, f"it must be 0, or lie between {low:g} and {high:g}", remedy)
