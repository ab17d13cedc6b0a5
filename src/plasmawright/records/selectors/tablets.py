"""Which tablets a clinic knows."""

import hashlib

from plasmawright.records.models import Clinic, Tablet


def tablets_of(clinic: Clinic) -> list[Tablet]:
    """Return the tablets enrolled in ``clinic``, by name; revoked ones are left out."""
    return list(Tablet.objects.of(clinic).filter(revoked_at=None).select_related("enrolled_by").order_by("name"))


def tablet(clinic: Clinic, tablet_id: int) -> Tablet | None:
    """Return one tablet enrolled in ``clinic``, or nothing."""
    return Tablet.objects.of(clinic).filter(pk=tablet_id, revoked_at=None).first()


def tablet_of_token(clinic: Clinic, token: str) -> Tablet | None:
    """Return the tablet enrolled in ``clinic`` that holds ``token``, or nothing."""
    return Tablet.objects.of(clinic).filter(token_hash=token_hash(token), revoked_at=None).first()


def tablet_anywhere(token: str) -> Tablet | None:
    """Return the enrolled tablet that holds ``token``: before anybody has signed in, it alone says which clinic."""
    found = (tablet_of_token(clinic, token) for clinic in Clinic.objects.order_by("pk"))
    return next((tablet for tablet in found if tablet is not None), None)


def token_hash(token: str) -> str:
    """Return what is kept of a tablet's secret; it is long and random, so that no salt is needed."""
    return hashlib.sha256(token.encode()).hexdigest()
