"""A PDF's words, sizes and tags as another program reads them."""

import io
from typing import Any

from pypdf import PdfReader

SIZES = {"a4": (595.28, 841.89), "letter": (612.0, 792.0)}
"""Width and height in points, as the two standards have them: 210 x 297 mm, 8.5 x 11 in."""
POINTS_PER_MM = 72 / 25.4


def words_of(pdf: bytes) -> list[str]:
    """Return each page's words with single spaces, without the signs that only let a line break."""
    return [" ".join(page.extract_text().replace("\u200b", "").split()) for page in PdfReader(io.BytesIO(pdf)).pages]


def sizes_of(pdf: bytes) -> list[tuple[float, float]]:
    """Return each page's width and height in points."""
    boxes = [page.mediabox for page in PdfReader(io.BytesIO(pdf)).pages]
    return [(float(box.width), float(box.height)) for box in boxes]


def standards_of(pdf: bytes) -> tuple[bool, bool, bool]:
    """Return whether it is tagged, and whether it says to be UA-1 and A-2a."""
    root: Any = PdfReader(io.BytesIO(pdf)).trailer["/Root"].get_object()  # Any: a PDF may hold anything
    said = root["/Metadata"].get_object().get_data().decode("utf-8")
    tagged = "/StructTreeRoot" in root and root["/MarkInfo"]["/Marked"].value
    return bool(tagged), "pdfuaid:part>1<" in said, "pdfaid:part>2<" in said and "pdfaid:conformance>A<" in said
