"""The only way to query a row that belongs to a clinic."""

from typing import TYPE_CHECKING, TypeVar

from django.db import models

if TYPE_CHECKING:
    from plasmawright.records.models import Clinic

Row = TypeVar("Row", bound=models.Model)


class UnscopedQueryError(RuntimeError):
    """A query that did not say for which clinic.

    It is no refusal: nothing a person gave lifts it, so the front doors own up to it as a fault of ours.
    """


class ScopedManager(models.Manager[Row]):
    """A manager that answers for one clinic at a time and refuses everything else."""

    def of(self, clinic: "Clinic") -> models.QuerySet[Row]:
        """Return the rows of ``clinic``; the start of every query."""
        return super().get_queryset().filter(clinic=clinic)

    def get_queryset(self) -> models.QuerySet[Row]:
        """Refuse: ``all``, ``filter`` and the like would read across clinics.

        Raises
        ------
        UnscopedQueryError
            Always.
        """
        name = self.model.__name__
        raise UnscopedQueryError(f"{name} rows belong to a clinic. Start the query with {name}.objects.of(clinic).")
