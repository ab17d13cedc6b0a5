"""Now, on this machine's clocks."""

import time
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from uuid import uuid4

from plasmawright.bench.moments import Moment

BOOT_ID = Path("/proc/sys/kernel/random/boot_id")


def moment_now() -> Moment:
    """Return the wall time and the time since this machine started, sleep included."""
    return Moment(at=datetime.now(UTC), boot_id=_boot_id(), boot_s=_boot_s())


@cache
def _boot_id() -> str:
    """Return which start of the machine this is; where it does not say, each process counts as a start of its own."""
    try:
        return BOOT_ID.read_text(encoding="ascii").strip()
    except OSError:
        return f"process-{uuid4().hex}"


def _boot_s() -> float:
    """Return the seconds since the start; a machine without that clock gives one that may stand still in its sleep."""
    if hasattr(time, "CLOCK_BOOTTIME"):
        return time.clock_gettime(time.CLOCK_BOOTTIME)
    return time.monotonic()
