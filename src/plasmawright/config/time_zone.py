"""The zone that pages and papers tell time in: this machine's own, unless somebody says otherwise."""

import os
from pathlib import Path
from zoneinfo import available_timezones

VARIABLES = ("PLASMAWRIGHT_TIME_ZONE", "TZ")
LOCAL_ZONE = Path("/etc/localtime")
OTHERWISE = "UTC"


def own_time_zone() -> str:
    """Return the name of the zone; what is kept is in UTC wherever the machine stands."""
    linked = str(LOCAL_ZONE.resolve()).partition("/zoneinfo/")[2]
    wanted = (*(os.environ.get(name, "") for name in VARIABLES), linked)
    known = available_timezones()
    return next((name for name in wanted if name in known), OTHERWISE)
