"""Who uses a data folder: many may at once, but nobody while its contents are replaced."""

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from plasmawright.errors import Refusal

IN_USE = "in-use.lock"
ONE_WORKER = "worker.lock"


@contextmanager
def folder_in_use(folder: Path) -> Iterator[None]:
    """Hold the folder as one of those who use it; however this process ends, it is let go.

    Raises
    ------
    Refusal
        If its contents are being replaced.
    """
    with _locked(folder / IN_USE, fcntl.LOCK_SH | fcntl.LOCK_NB, "its contents are being replaced", "Wait for that."):
        yield


@contextmanager
def folder_alone(folder: Path) -> Iterator[None]:
    """Hold the folder alone.

    Raises
    ------
    Refusal
        If somebody uses it.
    """
    with _locked(folder / IN_USE, fcntl.LOCK_EX | fcntl.LOCK_NB, "it is being served", "End `serve` first."):
        yield


@contextmanager
def only_worker(folder: Path) -> Iterator[None]:
    """Wait until no other worker does this folder's background work, then be the one that does."""
    with _locked(folder / ONE_WORKER, fcntl.LOCK_EX, "another worker is at it", "End the other first."):
        yield


@contextmanager
def _locked(file: Path, how: int, limit: str, remedy: str) -> Iterator[None]:
    descriptor = os.open(file, os.O_CREAT | os.O_RDWR, 0o600)
    try:
        try:
            fcntl.flock(descriptor, how)
        except BlockingIOError as held:
            raise Refusal("--data", file.parent, limit, remedy) from held
        yield
    finally:
        os.close(descriptor)
