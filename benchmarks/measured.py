"""One row of the table, and a stopwatch."""

import time
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Measured:
    """What was promised and what was measured, in words, and whether the promise is kept."""

    what: str
    promised: str
    measured: str
    kept: bool | None = None

    @property
    def verdict(self) -> str:
        """Return the last column; rows that only tell have none."""
        return "" if self.kept is None else "kept" if self.kept else "MISSED"


def best_s(work: Callable[[], object], *, times: int) -> float:
    """Return the shortest of ``times`` runs: what the work costs when nothing disturbs it."""
    found = []
    for _ in range(times):
        began = time.perf_counter()
        work()
        found.append(time.perf_counter() - began)
    return min(found)
