"""Papers written to disk: nothing of any stands in its place before all are whole."""

import os
from collections.abc import Mapping
from pathlib import Path

from plasmawright.errors import Refusal, shown

REMEDY = "Name a .pdf file in a folder of yours."


def refuse_unwritable(option: str, file: Path | None) -> None:
    """Refuse a place where no paper can be written, before anything is computed."""
    if file is None:
        return
    name, folder = shown(file.name), file.absolute().parent
    try:
        if file.is_dir():
            raise Refusal(option, name, "it is a folder", REMEDY)
        if not folder.is_dir():
            raise Refusal(option, name, "its folder is not there", "Make the folder first, or name another.")
        if not os.access(file if file.exists() else folder, os.W_OK):
            raise Refusal(option, name, "it cannot be written there", REMEDY)
    except OSError as fault:  # a name that is too long, a disk that fails
        raise Refusal(option, name, f"it cannot be written ({fault.strerror})", REMEDY) from fault


def write_together(papers: Mapping[Path, bytes]) -> None:
    """Write every paper beside its place first, and move each there once all are whole.

    Raises
    ------
    Refusal
        If one cannot be written; what stood in the places before stands there still.
    """
    waiting: dict[Path, Path] = {}
    try:
        for number, (file, paper) in enumerate(papers.items()):
            beside = file.with_name(f".plasmawright-{os.getpid()}-{number}.part")
            waiting[file] = beside
            beside.write_bytes(paper)
        for file, beside in waiting.items():
            beside.replace(file)
    except OSError as fault:
        names = ", ".join(shown(file.name) for file in papers)
        raise Refusal(names, fault.strerror, "it must be writable", REMEDY) from fault
    finally:
        for beside in waiting.values():
            beside.unlink(missing_ok=True)
