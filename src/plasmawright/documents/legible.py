"""Letters the papers' typeface lacks, written as code points: a missing letter must never stop a print."""

import unicodedata
from collections.abc import Mapping, Sequence
from functools import cache
from importlib.util import find_spec
from pathlib import Path

FACES = ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf")
"""Those in which a person's own words are set."""


def typefaces() -> Path:
    """Return the folder of the typefaces; they come inside matplotlib, which is not loaded for them."""
    found = find_spec("matplotlib")
    if found is None or found.origin is None:
        raise ModuleNotFoundError("matplotlib, which brings the papers' typefaces, is not installed.")
    return Path(found.origin).parent / "mpl-data" / "fonts" / "ttf"


@cache
def supported() -> frozenset[str]:
    """Return every letter that all of the papers' text can show."""
    shared = set.intersection(*(_held_by(typefaces() / face) for face in FACES))
    return frozenset(chr(code) for code in shared if unicodedata.category(chr(code))[0] != "C")


def _held_by(typeface: Path) -> set[int]:
    from fontTools.ttLib import TTFont

    with TTFont(typeface, lazy=True) as read:
        return set(read.getBestCmap())


def legible(text: str) -> str:
    """Return ``text`` with each run of letters that cannot be shown written as `⟨U+4E2D 6587⟩`."""
    shown: list[str] = []
    lacking: list[str] = []
    for letter in [*text, ""]:
        if letter and letter not in supported():
            lacking.append(f"{ord(letter):04X}")
            continue
        if lacking:
            shown.append(f"⟨U+{' '.join(lacking)}⟩")
            lacking = []
        shown.append(letter)
    return "".join(shown)


def all_legible(data: object) -> object:
    """Return plain data with every text in it legible."""
    if isinstance(data, str):
        return legible(data)
    if isinstance(data, Mapping):
        return {key: all_legible(value) for key, value in data.items()}
    if isinstance(data, Sequence):
        return [all_legible(value) for value in data]
    return data
