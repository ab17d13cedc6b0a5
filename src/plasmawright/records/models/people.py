"""Clinics and the people in them."""

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models.functions import Lower

from plasmawright.records.scoped import ScopedManager


class Role(models.TextChoices):
    """What a person does in a clinic."""

    PREPARER = "preparer"
    CLINICIAN = "clinician"
    ASSISTANT = "assistant"
    MANAGER = "manager"


class Clinic(models.Model):
    """A practice that keeps its own records, apart from every other."""

    name = models.CharField(max_length=120, unique=True)
    opened_at = models.DateTimeField()
    opened_by = models.CharField(max_length=120)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~models.Q(name=""), name="clinic_has_a_name"),
            models.CheckConstraint(condition=~models.Q(opened_by=""), name="clinic_was_opened_by_someone"),
        ]

    def __str__(self) -> str:
        return self.name


class Person(AbstractBaseUser):
    """Someone who signs in; a member of one clinic or of several."""

    username = models.CharField(max_length=60, unique=True)
    display_name = models.CharField(max_length=120)
    is_active = models.BooleanField(default=True)
    added_at = models.DateTimeField()
    added_by = models.CharField(max_length=120)

    USERNAME_FIELD = "username"
    objects = BaseUserManager["Person"]()

    class Meta:
        constraints = [
            models.UniqueConstraint(Lower("username"), name="username_is_unique_in_any_case"),
            models.CheckConstraint(condition=~models.Q(username=""), name="person_has_a_username"),
            models.CheckConstraint(condition=~models.Q(display_name=""), name="person_has_a_display_name"),
        ]

    def __str__(self) -> str:
        return self.display_name


class Membership(models.Model):
    """A person's role in a clinic; one that was taken away is ended and stays, since history speaks of it."""

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="+", related_query_name="membership")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", related_query_name="membership")
    role = models.CharField(max_length=20, choices=Role.choices)
    added_at = models.DateTimeField()
    added_by = models.CharField(max_length=120)
    ended_at = models.DateTimeField(null=True, blank=True)

    objects = ScopedManager["Membership"]()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["clinic", "person", "role"], condition=models.Q(ended_at=None), name="membership_is_held_once"
            ),
            models.CheckConstraint(condition=models.Q(role__in=Role.values), name="membership_role_is_known"),
        ]

    def __str__(self) -> str:
        return f"{self.person} as {self.role} of {self.clinic}"
