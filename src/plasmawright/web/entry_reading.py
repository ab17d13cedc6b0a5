"""An entry as a device posts it, read or refused."""

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from difflib import get_close_matches
from typing import TypeVar

from plasmawright.bench.entries import Kind
from plasmawright.bench.steps import Step
from plasmawright.errors import Refusal, Refusals

FIELDS = ("kind", "step", "body", "by", "device_seq", "device_at", "held_s", "true_at")
NAME_MAX = 150
SEQ_MAX = 2**63 - 1
HELD_S_MAX = 7 * 24 * 60 * 60
EARLIEST, LATEST = datetime(1970, 1, 1, tzinfo=UTC), datetime(3000, 1, 1, tzinfo=UTC)
"""A tablet whose clock was lost says 1970, and is heard all the same."""

Value = TypeVar("Value")


@dataclass(frozen=True, kw_only=True)
class Posted:
    """What a device says of one entry.

    Parameters
    ----------
    by
        The username of who tapped; empty for whoever is signed in.
    device_seq, device_at
        The device's own count and clock, kept as they are told.
    held_s
        For how long it was held back because nobody answered.
    """

    kind: Kind
    step: Step
    body: Mapping[str, object]
    by: str
    device_seq: int | None
    device_at: datetime | None
    held_s: float
    true_at: datetime | None


def posted_in(text: bytes, *, at: datetime) -> Posted:
    """Return the entry in the body of a request that arrived ``at``.

    Raises
    ------
    Refusals
        One for each key that is missing, unknown or wrong.
    """
    document = _document(text)
    found = [_unknown(name, document[name]) for name in document if name not in FIELDS]

    def read(name: str, reader: Callable[[str, object], Value], otherwise: Value) -> Value:
        value = document.get(name)
        if value is None and name not in {"kind", "step"}:
            return otherwise
        try:
            return reader(name, value)
        except Refusal as refused:
            found.append(refused)
            return otherwise

    posted = Posted(
        kind=read("kind", _kind, Kind.NOTE),
        step=read("step", _step, Step.IDENTIFY),
        body=read("body", _body, {}),
        by=read("by", _name, ""),
        device_seq=read("device_seq", _count, None),
        device_at=read("device_at", _time, None),
        held_s=read("held_s", _held, 0.0),
        true_at=read("true_at", _time, None),
    )
    if posted.true_at is not None and posted.true_at > at:
        found.append(Refusal("true_at", posted.true_at.isoformat(), "it must not lie ahead", "Give the paper's time."))
    if found:
        raise Refusals(tuple(found))
    return posted


def _document(text: bytes) -> Mapping[str, object]:
    try:
        document = json.loads(text, parse_constant=_no_number)
    except (ValueError, RecursionError) as broken:
        raise Refusals((Refusal("request", "not JSON", "it must be one JSON object", "Send it as JSON."),)) from broken
    if not isinstance(document, dict):
        raise Refusals((Refusal("request", "no object", "it must be one JSON object", "Send the entry's fields."),))
    return document


def _no_number(name: str) -> object:
    raise ValueError(name)


def _unknown(name: str, value: object) -> Refusal:
    near = get_close_matches(name, FIELDS, n=1)
    limit = f"an entry holds {', '.join(FIELDS)}"
    return Refusal(name, value, limit, f"Did you mean {near[0]}?" if near else "Leave it out.")


def _kind(name: str, value: object) -> Kind:
    if value not in list(Kind):
        raise Refusal(name, value, f"it must be one of {', '.join(Kind)}", "Choose one.")
    return Kind(str(value))


def _step(name: str, value: object) -> Step:
    if value not in list(Step):
        raise Refusal(name, value, f"it must be one of {', '.join(Step)}", "Choose one.")
    return Step(str(value))


def _body(name: str, value: object) -> Mapping[str, object]:
    if not isinstance(value, dict):
        raise Refusal(name, value, "it must be an object", "Send the fields of the entry.")
    return value


def _name(name: str, value: object) -> str:
    if not isinstance(value, str) or len(value) > NAME_MAX or not value.isprintable():
        raise Refusal(name, value, "it must be somebody's username", "Send the name they sign in with.")
    return value


def _count(name: str, value: object) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value <= SEQ_MAX:
        raise Refusal(name, value, "it must be a whole number from 0", "Send the device's own count.")
    return value


def _held(name: str, value: object) -> float:
    if not isinstance(value, int | float) or isinstance(value, bool) or not 0 <= value <= HELD_S_MAX:
        raise Refusal(name, value, f"it must lie between 0 and {HELD_S_MAX} s", "Enter it later from paper instead.")
    return float(value)


def _time(name: str, value: object) -> datetime:
    try:
        read = datetime.fromisoformat(value) if isinstance(value, str) else None
        if read is not None and read.tzinfo is not None and EARLIEST <= read <= LATEST:
            return read.astimezone(UTC)
    except (ValueError, OverflowError):
        pass
    limit = "it must be a time with its zone, such as 2026-03-04T09:30:00Z"
    raise Refusal(name, value, limit, "Send it so.")
