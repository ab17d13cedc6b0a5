"""A TOML file on disk to its keys and values, or to a preparation."""

from pathlib import Path

from plasmawright.errors import shown
from plasmawright.exchange.file import read_bytes
from plasmawright.exchange.toml.decode import BYTES_MAX, decode
from plasmawright.preparation.protocol import Preparation
from plasmawright.preparation.reading import preparation_from


def read_document(path: Path) -> dict[str, object]:
    """Read the keys and values of a TOML file.

    Raises
    ------
    Refusal
        If it cannot be read or decoded.
    """
    return decode(read_bytes(path, bytes_max=BYTES_MAX), shown(path.name or path))


def read_preparation(path: Path) -> Preparation:
    """Read a preparation file.

    Raises
    ------
    Refusal
        If the file cannot be read or decoded.
    Refusals
        If what it says cannot be used.
    """
    return preparation_from(read_document(path))
