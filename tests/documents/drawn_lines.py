"""Lines read back from a PDF's own drawing commands, in millimetres from the page's lower left corner."""

from dataclasses import dataclass
from typing import Any

from pypdf import PageObject

MM_PER_POINT = 25.4 / 72


@dataclass(frozen=True, kw_only=True)
class Line:
    """One level line with its thickness."""

    x_mm: float
    y_mm: float
    long_mm: float
    thick_mm: float


def level_lines(page: PageObject) -> list[Line]:
    """Return every level line that is stroked by itself on ``page``."""
    found: list[Line] = []
    points: list[tuple[float, float]] = []
    thick = [1.0]

    def visit(
        operator: bytes,
        operands: list[Any],  # Any: numbers, names or strings as the operator has it
        matrix: list[float],
        _text_matrix: list[float],
    ) -> None:
        if operator == b"w":
            thick[0] = float(operands[0])
        elif operator in (b"m", b"l"):
            x, y = float(operands[0]), float(operands[1])
            a, b, c, d, e, f = matrix
            placed = ((a * x + c * y + e) * MM_PER_POINT, (b * x + d * y + f) * MM_PER_POINT)
            points[:] = [placed] if operator == b"m" else [*points, placed]
        elif operator == b"S":
            if len(points) == 2 and abs(points[0][1] - points[1][1]) < 1e-3:
                (left_mm, y_mm), (right_mm, _level_mm) = sorted(points)
                found.append(
                    Line(
                        x_mm=left_mm, y_mm=y_mm, long_mm=right_mm - left_mm,
                        thick_mm=thick[0] * abs(matrix[0]) * MM_PER_POINT,
                    )
                )  # fmt: skip
            points.clear()

    page.extract_text(visitor_operand_before=visit)
    return found
