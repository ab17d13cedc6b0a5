"""Pulls of the drill as they are kept: a series at a time, a hand once it is whole, each person their own."""

import pytest
from django.db import IntegrityError, transaction
from tests.builders import AT, make_clinic, make_person

from plasmawright.errors import Refusal
from plasmawright.practice.drill import PULLS, Pull, stopped_mm
from plasmawright.records.models import DrillPull, Entry, Role
from plasmawright.records.selectors.drill import hand, last_series, pulls_of
from plasmawright.records.services.drill import keep_pull

pytestmark = [pytest.mark.database, pytest.mark.django_db]


def pull(taken_g: float = 3.6, added_g: float = 4.0) -> Pull:
    return Pull(aimed_mm=3.0, added_g=added_g, taken_g=taken_g, inner_diameter_mm=13.0)


def test_a_pull_is_kept_with_its_line_and_what_follows_from_its_weights() -> None:
    clinic = make_clinic()
    pim = make_person(clinic)
    kept = keep_pull(clinic=clinic, person=pim, series="one", pull=pull(), at=AT)
    # 0.4 g of water at 22 °C over a bore of 13 mm: 0.4009 mL on 132.7 mm² stand 3.02 mm high
    assert kept.got_mm == pytest.approx(3.02, abs=0.01)
    assert kept.got_mm == stopped_mm(pull())
    assert Entry.objects.of(clinic).filter(about_kind="drillpull", about_id=kept.pk).count() == 1


def test_a_hand_is_known_by_its_newest_whole_series_and_not_before() -> None:
    clinic = make_clinic()
    pim, cleo = make_person(clinic), make_person(clinic, "cleo", Role.CLINICIAN)
    for number in range(PULLS):
        assert hand(clinic=clinic, person=pim) is None
        keep_pull(clinic=clinic, person=pim, series="one", pull=pull(3.5 + 0.02 * number), at=AT)
    first = hand(clinic=clinic, person=pim)
    assert first is not None
    assert first.pulls == PULLS
    keep_pull(clinic=clinic, person=pim, series="two", pull=pull(3.0), at=AT)
    assert hand(clinic=clinic, person=pim) == first, "a series that is not whole says nothing yet"
    assert last_series(clinic=clinic, person=pim) == "two"
    assert [one.number for one in pulls_of(clinic=clinic, series="one")] == list(range(1, PULLS + 1))
    assert hand(clinic=clinic, person=cleo) is None


@pytest.mark.parametrize("wrong", [pull(5.0), pull(added_g=0.0), pull(taken_g=0.0, added_g=50.0)])
def test_weights_that_cannot_be_are_refused_and_nothing_is_kept(wrong: Pull) -> None:
    clinic = make_clinic()
    pim = make_person(clinic)
    with pytest.raises(Refusal):
        keep_pull(clinic=clinic, person=pim, series="one", pull=wrong, at=AT)
    assert not DrillPull.objects.of(clinic).exists()


def test_who_holds_no_role_pulls_nothing() -> None:
    clinic, other = make_clinic(), make_clinic("South Clinic")
    with pytest.raises(Refusal, match="stop-line drill"):
        keep_pull(clinic=other, person=make_person(clinic), series="one", pull=pull(), at=AT)


def test_the_database_keeps_no_pull_twice_in_its_place() -> None:
    clinic = make_clinic()
    kept = keep_pull(clinic=clinic, person=make_person(clinic), series="one", pull=pull(), at=AT)
    kept.pk = None
    with pytest.raises(IntegrityError), transaction.atomic():
        kept.save(force_insert=True)
