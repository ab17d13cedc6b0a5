"""When a lot may be opened: not recalled, and not past its last day."""

from datetime import date

from plasmawright.errors import Refusal


def refusal_of_lot(
    *, number: str, supply: str, touches_blood: bool, expires_on: date | None, recalled_why: str | None, on: date
) -> Refusal | None:
    """Return why a lot may not be used on a day, or nothing; it may still be used on the day it expires.

    Parameters
    ----------
    recalled_why
        The reason of a recall; ``None`` for a lot that stands.
    """
    named = f"{supply}, lot {number}"
    if recalled_why is not None:
        limit = f"it was recalled ({recalled_why})"
        return Refusal("lot", named, limit, "Put it aside, apart from the rest, and open another lot.")
    if expires_on is None:
        if touches_blood:
            limit = "what touches blood must have a date it expires on"
            return Refusal("lot", named, limit, "Read the date from the pack and receive the lot anew.")
        return None
    if on > expires_on:
        return Refusal("lot", named, f"it expired on {expires_on}", "Put it aside, and open a lot that is in date.")
    return None
