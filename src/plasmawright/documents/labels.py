"""Labels of tubes and syringes as plain data, and the sheets they are printed on."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import floor, pi
from typing import Literal

from plasmawright.documents.label_code import LabelCode, label_code
from plasmawright.documents.made import Printed
from plasmawright.errors import OutOfRange

FOR_THIS_PATIENT = "for this patient only"
CLEAR_STRIP_MM_MIN = 6.0
"""Through a narrower gap nobody sees where plasma ends and red begins."""
LABELS_MAX = 400


@dataclass(frozen=True, kw_only=True)
class LabelGrid:
    """Labels of one size on one paper; lengths in millimetres.

    Parameters
    ----------
    left_mm, top_mm
        From the paper's corner to the first label's.
    across_mm, down_mm
        From the beginning of one label to the beginning of the next.
    """

    wide_mm: float
    tall_mm: float
    columns: int
    rows: int
    left_mm: float
    top_mm: float
    across_mm: float
    down_mm: float

    @property
    def positions(self) -> int:
        """Return how many labels a sheet holds."""
        return self.columns * self.rows

    @property
    def words(self) -> str:
        """Return the measures as they stand on a box of sheets."""
        return f"{self.wide_mm:g} × {self.tall_mm:g} mm, {self.columns} across and {self.rows} down"


GRIDS: dict[Literal["a4", "letter"], LabelGrid] = {
    "a4": LabelGrid(
        wide_mm=63.5, tall_mm=29.6, columns=3, rows=9, left_mm=7.25, top_mm=15.3, across_mm=66.0, down_mm=29.6
    ),
    "letter": LabelGrid(
        wide_mm=66.7, tall_mm=25.4, columns=3, rows=10, left_mm=4.75, top_mm=12.7, across_mm=69.85, down_mm=25.4
    ),
}
"""Sizes that any stationer has for each paper."""


@dataclass(frozen=True, kw_only=True)
class Label:
    """What one vessel carries; an empty ``volume``, ``prepared`` or ``use_by`` becomes a line to write on.

    Parameters
    ----------
    code
        Opaque; tells nothing of the patient. ``None`` where a run was not opened before the machine was down.
    vessel
        Such as ``tube 2 of 4``.
    identifiers
        Those the clinic prints, the name first where it is among them.
    """

    code: LabelCode | None
    vessel: str
    identifiers: tuple[str, ...]
    product: str
    volume: str = ""
    prepared: str = ""
    use_by: str = ""
    place: str = ""
    name_alert: bool = False
    practice: bool = False
    only: str = FOR_THIS_PATIENT


@dataclass(frozen=True, kw_only=True)
class LabelSheet:
    """Labels in order, the position of the first (from 1, along the rows), and how they are put on."""

    title: str
    grid: LabelGrid
    grid_words: str
    first: int
    labels: tuple[Label, ...]
    strips: tuple[str, ...]
    made_words: str
    made: Printed


def label_of(code: str | None, *, vessel: str, identifiers: Sequence[str], product: str) -> Label:
    """Return a label with its lines left open.

    Raises
    ------
    Refusal
        If ``code`` is not one a scanner can type.
    """
    return Label(
        code=None if code is None else label_code(code), vessel=vessel, identifiers=tuple(identifiers), product=product
    )


def label_sheet(
    labels: Sequence[Label],
    *,
    title: str,
    paper: Literal["a4", "letter"],
    made: Printed,
    first: int = 1,
    inner_diameters_mm: Sequence[float] = (),
) -> LabelSheet:
    """Return ``labels`` on sheets of the paper's grid, the first at position ``first`` of a part-used sheet.

    Raises
    ------
    OutOfRange
        If the sheet has no such position, or there are more labels than anyone could use.
    """
    grid = GRIDS[paper]
    if not 1 <= first <= grid.positions:
        remedy = "Count along the rows from the top left label; used ones count too."
        raise OutOfRange("from", first, 1, grid.positions, remedy)
    if not 1 <= len(labels) <= LABELS_MAX:
        raise OutOfRange("labels", len(labels), 1, LABELS_MAX, "Print fewer at a time.")
    return LabelSheet(
        title=title,
        grid=grid,
        grid_words=grid.words,
        first=first,
        labels=tuple(labels),
        strips=tuple(strip_words(one, grid.tall_mm) for one in sorted(set(inner_diameters_mm))),
        made_words=made.words,
        made=made,
    )


def strip_words(inner_diameter_mm: float, label_tall_mm: float) -> str:
    """Say how much of a tube's round stays clear beside a label that runs along it.

    The bore is what is known; the wall outside it only adds to the strip.
    """
    strip_mm = pi * inner_diameter_mm - label_tall_mm
    bore = f"Bore {inner_diameter_mm:g} mm"
    if strip_mm < CLEAR_STRIP_MM_MIN:
        return (
            f"{bore}: the label is too tall to leave a clear strip. Fold it into a flag at the top, above the column."
        )
    clear_mm = floor(strip_mm * 2) / 2
    return f"{bore}: along the tube, a clear strip of {clear_mm:g} mm at least stays between the label's long edges."
