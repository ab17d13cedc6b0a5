"""Papers written to disk: all of them or none."""

import os
from collections.abc import Mapping
from pathlib import Path

from plasmawright.errors import Refusal, shown

REMEDY = "Name a .pdf file in a folder of yours."


def refuse_unwritable(option: str, file: Path | None) -> None:
    """Refuse a place where no paper can be written, before anything is computed."""
    if file is None:
        return
    if file.is_dir():
        raise Refusal(option, shown(file.name), "it is a folder", REMEDY)
    if not file.absolute().parent.is_dir():
        raise Refusal(option, shown(file.name), "its folder is not there", "Make the folder first, or name another.")
    if not os.access(file if file.exists() else file.absolute().parent, os.W_OK):
        raise Refusal(option, shown(file.name), "it cannot be written there", REMEDY)


def write_together(papers: Mapping[Path, bytes]) -> None:
    """Write every paper beside its place first, and move them there once all are whole.

    Raises
    ------
    Refusal
        If one cannot be written; then none is.
    """
    waiting: dict[Path, Path] = {}
    try:
        for file, paper in papers.items():
            beside = file.with_name(f".{file.name}.{os.getpid()}.part")
            waiting[file] = beside
            beside.write_bytes(paper)
        for file, beside in waiting.items():
            beside.replace(file)
    except OSError as fault:
        for beside in waiting.values():
            beside.unlink(missing_ok=True)
        raise Refusal(shown(next(iter(papers)).name), fault.strerror, "it cannot be written", REMEDY) from fault
