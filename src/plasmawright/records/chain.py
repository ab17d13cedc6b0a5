"""The ledger's arithmetic: what a line says, how it is sealed, and how names hide under a salt. Pure functions."""

import hashlib
import hmac
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

FORM = 1
"""The form of the sealed text; a line in another form is read as that form was."""


@dataclass(frozen=True, kw_only=True)
class Line:
    """What one line of a clinic's chain says, names and words under their salted digests.

    Parameters
    ----------
    previous
        Digest of the line before; empty for the first.
    attested
        The fields of the row the line is about that ``state`` is the digest of.
    erases
        Places in the chain whose names and words were erased by this line.
    """

    clinic_id: int
    seq: int
    previous: str
    at: str
    about_kind: str
    about_id: int
    became: str
    by: str
    words: str
    attested: tuple[str, ...]
    state: str
    erases: tuple[int, ...] = ()

    def canonical(self) -> str:
        """Return the text that is sealed and stored."""
        return canonical_text(
            {
                "form": FORM,
                "clinic": self.clinic_id,
                "seq": self.seq,
                "previous": self.previous,
                "at": self.at,
                "about": [self.about_kind, self.about_id],
                "became": self.became,
                "by": self.by,
                "words": self.words,
                "attested": list(self.attested),
                "state": self.state,
                "erases": list(self.erases),
            }
        )


def line_from(text: str) -> Line:
    """Return what a stored text says.

    Raises
    ------
    ValueError
        If it is no line; only a text whose seal was not checked can be none.
    """
    try:
        read: dict[str, Any] = json.loads(text)
        kind, number = read["about"]
        return Line(
            clinic_id=read["clinic"],
            seq=read["seq"],
            previous=read["previous"],
            at=read["at"],
            about_kind=kind,
            about_id=number,
            became=read["became"],
            by=read["by"],
            words=read["words"],
            attested=tuple(read["attested"]),
            state=read["state"],
            erases=tuple(read["erases"]),
        )
    except (KeyError, TypeError) as fault:
        raise ValueError("not a line of the ledger") from fault


def canonical_text(document: Mapping[str, object]) -> str:
    """Return one text for one document, whatever the order of its keys."""
    return json.dumps(document, sort_keys=True, separators=(",", ":"), allow_nan=False)


def sealed(key: bytes, text: str) -> str:
    """Return the HMAC-SHA256 of a line's text."""
    return hmac.new(key, text.encode(), hashlib.sha256).hexdigest()


def under_salt(salt: str, text: str) -> str:
    """Return the digest that stands in the chain for a name, for words or for a row's state."""
    return hashlib.sha256(f"{salt}\n{text}".encode()).hexdigest()


def state_text(values: Mapping[str, object], fields: Sequence[str]) -> str:
    """Return the named fields of a row as one text; times in UTC, so that both databases tell the same."""
    return canonical_text({name: _plain(values[name]) for name in fields})


def _plain(value: object) -> object:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    return value.isoformat() if isinstance(value, date) else value
