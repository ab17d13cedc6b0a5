"""The day worked out once for everybody who looks, and again only when something was written or time has passed."""

import hashlib
import threading
from dataclasses import dataclass

from django.utils import timezone

from plasmawright.bench.moments import Moment
from plasmawright.records.models import Clinic
from plasmawright.records.selectors.today import version_of
from plasmawright.web.today_day import Day, day_of
from plasmawright.web.today_quiet import Quiet, quiet_of
from plasmawright.web.today_standing import Standings

SLOT_S = 5.0
"""For how long a day stands while nothing is written: minutes are shown, so seconds may pass."""
QUIET_SLOT_S = 60.0
"""For how long the quiet lines stand."""


@dataclass(frozen=True, kw_only=True)
class Posted:
    """A day as it stands on the board; ``mark`` is another whenever anything shown is."""

    day: Day
    mark: str


class Board:
    """Keeps the last day of each clinic."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._standings = Standings()
        self._posted: dict[int, tuple[object, Posted]] = {}
        self._quiet: dict[int, tuple[object, Quiet]] = {}

    def posted(self, clinic: Clinic, moment: Moment) -> Posted:
        """Return the day of ``moment``: whatever was written before it is in it."""
        with self._lock:  # so that it is worked out once, not by everybody who waits
            key = (version_of(clinic), moment.boot_id, int(moment.boot_s // SLOT_S), timezone.localdate(moment.at))
            kept = self._posted.get(clinic.pk)
            if kept is None or kept[0] != key:
                day = day_of(clinic, moment=moment, standings=self._standings, quiet=self._quietly(clinic, moment))
                mark = hashlib.sha256(repr(day).encode()).hexdigest()[:16]
                kept = self._posted[clinic.pk] = (key, Posted(day=day, mark=mark))
            return kept[1]

    def _quietly(self, clinic: Clinic, moment: Moment) -> Quiet:
        key = (moment.boot_id, int(moment.boot_s // QUIET_SLOT_S), timezone.localdate(moment.at))
        kept = self._quiet.get(clinic.pk)
        if kept is None or kept[0] != key:
            kept = self._quiet[clinic.pk] = (key, quiet_of(clinic, timezone.localdate(moment.at)))
        return kept[1]


BOARD = Board()
