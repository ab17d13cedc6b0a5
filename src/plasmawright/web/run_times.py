"""Times of a run in words for paper, in the clinic's own zone and saying which."""

from datetime import datetime

from django.utils import timezone


def zone_of(at: datetime) -> str:
    """Return the name of the zone that times are shown in."""
    return timezone.localtime(at).tzname() or "UTC"


def day_and_minute(at: datetime) -> str:
    """Return `2026-03-04 09:42 UTC`."""
    return f"{timezone.localtime(at):%Y-%m-%d %H:%M} {zone_of(at)}"


def minute(at: datetime) -> str:
    """Return `09:42`."""
    return f"{timezone.localtime(at):%H:%M}"


def second(at: datetime, *, opened_at: datetime) -> str:
    """Return `09:42:07`, the day before it where it is not the day of ``opened_at``."""
    told = timezone.localtime(at)
    same_day = told.date() == timezone.localtime(opened_at).date()
    return f"{told:%H:%M:%S}" if same_day else f"{told:%Y-%m-%d %H:%M:%S}"


def lasted(seconds: float) -> str:
    """Return `1 h 20 min`, whole minutes, rounded up: a limit is never met by rounding."""
    minutes = max(0, -int(-seconds // 60))
    return f"{minutes // 60} h {minutes % 60} min" if minutes >= 60 else f"{minutes} min"
