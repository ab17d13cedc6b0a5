"""Pages and papers tell time in the machine's own zone and say which."""

from datetime import UTC, datetime

import pytest
from django.utils import timezone

from plasmawright.config.time_zone import own_time_zone
from plasmawright.web.run_times import day_and_minute

NOON = datetime(2026, 7, 1, 12, 0, tzinfo=UTC)


def test_the_zone_is_the_one_that_somebody_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PLASMAWRIGHT_TIME_ZONE", "Asia/Tokyo")
    assert own_time_zone() == "Asia/Tokyo"


def test_a_zone_that_nobody_knows_is_passed_over(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PLASMAWRIGHT_TIME_ZONE", "Moon/Crater")
    monkeypatch.setenv("TZ", "Europe/Lisbon")
    assert own_time_zone() == "Europe/Lisbon"


def test_a_time_on_paper_names_its_zone() -> None:
    # Tokyo is nine hours ahead of UTC all year round (IANA time zone database)
    with timezone.override("Asia/Tokyo"):
        assert day_and_minute(NOON) == "2026-07-01 21:00 JST"
