"""The invented clinic is made by the services that a clinic uses."""

import pytest
from django.contrib.auth import authenticate
from tests.builders import AT

from plasmawright.demo.clinic import invent_clinic
from plasmawright.records.models import Membership, Role
from plasmawright.records.selectors.people import clinic_named

pytestmark = [pytest.mark.database, pytest.mark.django_db]


def test_each_role_has_one_person_who_can_sign_in() -> None:
    sign_ins = invent_clinic(AT)
    clinic = clinic_named("Invented Clinic")
    assert clinic is not None
    assert [sign_in.role for sign_in in sign_ins] == list(Role)
    assert Membership.objects.of(clinic).count() == len(Role)
    for sign_in in sign_ins:
        assert authenticate(username=sign_in.name, password=sign_in.password) is not None
