"""No row that belongs to a clinic is ever read without saying which clinic."""

from collections.abc import Callable

import pytest
from django.apps import apps
from django.db import models
from tests.builders import make_clinic, make_person

from plasmawright.records.models import Membership
from plasmawright.records.scoped import ScopedManager, UnscopedQueryError

UNSCOPED = {"Clinic", "Person"}


def scoped_models() -> list[type[models.Model]]:
    """Return every model of the records that belongs to a clinic."""
    return [model for model in apps.get_app_config("records").get_models() if model.__name__ not in UNSCOPED]


def test_every_row_but_clinic_and_person_has_a_clinic_and_one_scoped_manager() -> None:
    found = scoped_models()
    assert Membership in found
    for model in found:
        clinic = model._meta.get_field("clinic")
        assert isinstance(clinic, models.ForeignKey)
        assert not clinic.null
        assert [type(manager) for manager in model._meta.managers] == [ScopedManager]


def test_no_model_can_be_reached_backwards_past_its_manager() -> None:
    for model in apps.get_app_config("records").get_models():
        ours = [found for found in model._meta.related_objects if found.related_model in scoped_models()]
        assert ours == [], model.__name__


@pytest.mark.parametrize(
    "ask",
    [
        Membership.objects.all,
        lambda: Membership.objects.filter(role="manager"),
        lambda: Membership.objects.get(pk=1),
        Membership.objects.count,
        lambda: Membership.objects.values("person"),
        lambda: Membership.objects.create(role="manager"),
    ],
)
def test_a_query_that_names_no_clinic_is_refused(ask: Callable[[], object]) -> None:
    with pytest.raises(UnscopedQueryError, match=r"Membership.objects.of\(clinic\)"):
        ask()


@pytest.mark.database
@pytest.mark.django_db
def test_one_clinic_never_sees_the_rows_of_another() -> None:
    north, south = make_clinic("North"), make_clinic("South")
    make_person(north, username="pim")
    make_person(south, username="cleo")
    assert [row.person.username for row in Membership.objects.of(north)] == ["pim"]
    assert [row.person.username for row in Membership.objects.of(south)] == ["cleo"]
