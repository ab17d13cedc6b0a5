"""The folder of a demo: how one that a demo made itself is known, and opened again with the same sign-ins."""

import json
import os
import shutil
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

from plasmawright.errors import Refusal

MARKER = "demo.json"


@dataclass(frozen=True, kw_only=True)
class KeptDemo:
    """What is needed to open a demo again as it was."""

    people: Sequence[Mapping[str, str]]
    tablet_code: str
    port: int


def keep_demo(folder: Path, demo: KeptDemo | None) -> None:
    """Mark the folder as one that a demo made; ``None`` while it is not filled yet."""
    beside = folder / f".{MARKER}-{os.getpid()}.part"
    with os.fdopen(os.open(beside, os.O_CREAT | os.O_TRUNC | os.O_WRONLY, 0o600), "w", encoding="utf-8") as writing:
        json.dump(None if demo is None else asdict(demo), writing)
    beside.replace(folder / MARKER)


def kept_demo(folder: Path) -> KeptDemo | None:
    """Return what a demo kept in the folder; one that was killed before it had filled it is cleared away."""
    try:
        document = json.loads((folder / MARKER).read_text(encoding="utf-8"))
        if document is not None:
            return KeptDemo(**document)
    except (OSError, ValueError, TypeError):
        return None  # not made by a demo, or no longer as a demo left it: the folder is left alone
    for left in folder.iterdir():
        if left.is_dir():
            shutil.rmtree(left)
        else:
            left.unlink()
    return None


def refuse_unless_empty(folder: Path) -> None:
    """Refuse a folder that holds anything.

    Raises
    ------
    Refusal
        If it does, or is no folder.
    """
    if folder.exists() and not (folder.is_dir() and not any(folder.iterdir())):
        limit = "the demo needs a folder that is empty, or that a demo made"
        raise Refusal("--data", folder, limit, "Name an empty one, or leave --data out.")
