"""What the stop-line drill says of a person's hand."""

from plasmawright.practice.drill import PULLS, Hand, hand_of
from plasmawright.records.models import Clinic, DrillPull, Person


def pulls_of(*, clinic: Clinic, series: str) -> list[DrillPull]:
    """Return the pulls of one series in their order."""
    return list(DrillPull.objects.of(clinic).filter(series=series).order_by("number"))


def last_series(*, clinic: Clinic, person: Person) -> str | None:
    """Return the series a person pulled last, or nothing."""
    last = DrillPull.objects.of(clinic).filter(person=person).order_by("-pulled_at", "-pk").first()
    return last.series if last else None


def hand(*, clinic: Clinic, person: Person) -> Hand | None:
    """Return how a person's hand stops by their newest whole series of ten; nothing before the first."""
    series = DrillPull.objects.of(clinic).filter(person=person, number=PULLS).order_by("-pulled_at", "-pk").first()
    if series is None:
        return None
    pulls = pulls_of(clinic=clinic, series=series.series)
    return hand_of([pull.aimed_mm for pull in pulls], [pull.got_mm for pull in pulls])
