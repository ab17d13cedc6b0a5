"""A text as a Data Matrix: which modules of the square are dark."""

from dataclasses import dataclass

from ppf.datamatrix import DataMatrix

from plasmawright.errors import Refusal

CODE_CHARACTERS_MAX = 40
CODECS = ["ascii", "C40", "text"]


@dataclass(frozen=True, kw_only=True)
class LabelCode:
    """One code; ``runs`` are the dark modules of each row from the top, as (row, first column, how many)."""

    text: str
    across: int
    runs: tuple[tuple[int, int, int], ...]


def label_code(text: str) -> LabelCode:
    """Return ``text`` as modules.

    Raises
    ------
    Refusal
        If it is empty, too long for a label, or holds letters that a scanner does not type.
    """
    if not 0 < len(text) <= CODE_CHARACTERS_MAX or not text.isascii() or not text.isprintable():
        limit = f"a code holds 1 to {CODE_CHARACTERS_MAX} plain letters, figures and marks"
        raise Refusal("code", text, limit, "Make the code anew.")
    rows: list[list[int]] = DataMatrix(text, codecs=CODECS).matrix
    runs = tuple(run for number, row in enumerate(rows) for run in _runs(number, row))
    return LabelCode(text=text, across=len(rows), runs=runs)


def _runs(number: int, row: list[int]) -> list[tuple[int, int, int]]:
    """Return the dark runs of one row: neighbours drawn as one leave no seam between them."""
    found: list[tuple[int, int, int]] = []
    for column, dark in enumerate(row):
        if not dark:
            continue
        if found and found[-1][1] + found[-1][2] == column:
            found[-1] = (number, found[-1][1], found[-1][2] + 1)
        else:
            found.append((number, column, 1))
    return found
