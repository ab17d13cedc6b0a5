"""Where runs stand, told once for each place they reach: thirty tablets ask every two seconds."""

import threading
from collections import OrderedDict
from collections.abc import Mapping, Sequence

from plasmawright.records.models import Clinic, Run
from plasmawright.records.selectors.today import Standing, standings

KEPT_MAX = 128


class Standings:
    """Keeps where each run stood last; a run's entries are never changed, so its place says which facts are right."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._kept: OrderedDict[tuple[str, int], Standing] = OrderedDict()

    def of(self, clinic: Clinic, runs: Sequence[Run]) -> Mapping[int, Standing]:
        """Return where these runs stand; those that have moved are read anew, all at once."""
        with self._lock:
            found = {run.pk: kept for run in runs if (kept := self._kept.get((run.code, run.positions)))}
        moved = {run.pk: run for run in runs if run.pk not in found}
        fresh = standings(clinic, moved.keys())
        with self._lock:
            for run_id, standing in fresh.items():
                self._kept[moved[run_id].code, standing.facts.position] = standing
            while len(self._kept) > KEPT_MAX:
                self._kept.popitem(last=False)
        return {**found, **fresh}
