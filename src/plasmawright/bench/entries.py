"""What a hand tells a run: kinds of entry, and what each may hold."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from plasmawright.bench.mishaps import MISHAPS
from plasmawright.bench.steps import Step
from plasmawright.errors import Refusal, Refusals

WORDS_MAX = 2000
TUBES_MAX = 64

Body = Mapping[str, Any]
"""What an entry holds. Any: numbers, words and yes or no, read by the fields of its kind."""


class Kind(StrEnum):
    """What an entry is."""

    BEGAN = "began"
    DONE = "done"
    TUBE = "tube"
    SCANNED = "scanned"
    MEASURED = "measured"
    RED_SEEN = "red_seen"
    RED_FATE = "red_fate"
    MISHAP = "mishap"
    CHOSEN = "chosen"
    DIFFERS = "differs"
    AMENDED = "amended"
    REVIEWED = "reviewed"
    SILENCED = "silenced"
    NOTE = "note"
    SIGNED = "signed"
    OVERRIDDEN = "overridden"


STEP_BOUND = frozenset({Kind.BEGAN, Kind.DONE, Kind.TUBE, Kind.CHOSEN})
"""Kinds that move a run: one that speaks of a step the run has left is kept for review and moves nothing."""

SIGNED_KINDS = frozenset({Kind.SIGNED, Kind.OVERRIDDEN})
"""Kinds that only a service writes, after it has seen a PIN."""


class Measure(StrEnum):
    """What can be measured or seen at the bench."""

    INTERFACE_MM = "interface_mm"
    PLASMA_MM = "plasma_mm"
    LOOK_INTERFACE_MM = "look_interface_mm"
    LOOK_MINUTES = "look_minutes"
    WITHDRAWN_ML = "withdrawn_ml"
    WITHDRAWN_G = "withdrawn_g"
    POOLED_ML = "pooled_ml"
    PPP_ML = "ppp_ml"
    PRP_ML = "prp_ml"
    TUBE_ML = "tube_ml"
    MASS_G = "mass_g"
    INTERFACE_LOOK = "interface_look"
    PLASMA_LOOK = "plasma_look"
    PPP_LOOK = "ppp_look"
    SWIRL_LOOK = "swirl_look"
    ACTIVATED = "activated"


LOOKS: Mapping[Measure, tuple[str, ...]] = {
    Measure.INTERFACE_LOOK: ("sharp", "hazy"),
    Measure.PLASMA_LOOK: ("clear", "pink", "milky"),
    Measure.PPP_LOOK: ("clear", "hazy"),
    Measure.SWIRL_LOOK: ("swirl", "no swirl", "clumps"),
    Measure.ACTIVATED: ("no", "yes"),
}
"""What is seen rather than measured, and the words for it, the usual one first."""

LIMITS: Mapping[Measure, tuple[float, float]] = {
    Measure.INTERFACE_MM: (0.0, 200.0),
    Measure.PLASMA_MM: (0.0, 200.0),
    Measure.LOOK_INTERFACE_MM: (0.0, 200.0),
    Measure.LOOK_MINUTES: (0.0, 240.0),
    Measure.WITHDRAWN_ML: (0.0, 200.0),
    Measure.WITHDRAWN_G: (0.0, 200.0),
    Measure.POOLED_ML: (0.0, 1000.0),
    Measure.PPP_ML: (0.0, 1000.0),
    Measure.PRP_ML: (0.0, 200.0),
    Measure.TUBE_ML: (0.0, 200.0),
    Measure.MASS_G: (0.0, 2000.0),
}
TUBE_EVENTS = ("counted", "filled", "short", "slow", "failed", "withdrawn")
FATES = ("left_out", "pooled", "respun")


@dataclass(frozen=True, kw_only=True)
class Written:
    """One entry of a run as it was kept.

    Parameters
    ----------
    position
        Its place in the run, from 1.
    at
        On the run's steady clock.
    by
        The username of who tapped.
    later
        Entered afterwards from paper; ``true_at`` is then the time on the paper.
    review
        The run had moved on: kept for review, moves nothing.
    """

    position: int
    kind: Kind
    step: Step
    body: Body
    at: datetime
    by: str
    later: bool = False
    review: bool = False


def read_body(kind: Kind, body: object) -> dict[str, Any]:
    """Return what an entry of ``kind`` holds, each field checked. Any: fields differ in type.

    Raises
    ------
    Refusals
        One for each field that is missing, unknown, of the wrong type or out of range.
    """
    if not isinstance(body, Mapping):
        raise Refusals((Refusal("body", body, "it must be an object", "Send the fields of the entry."),))
    fields = FIELDS[kind]
    found: list[Refusal] = []
    read: dict[str, Any] = {}
    for name in body:
        if name not in fields:
            limit = f"an entry of kind {kind.value} holds {', '.join(fields) or 'nothing'}"
            found.append(Refusal(f"body.{name}", body[name], limit, "Leave it out."))
    for name, field in fields.items():
        if body.get(name) is None:
            if field.needed:
                found.append(Refusal(f"body.{name}", "missing", "it is needed", "Give it."))
            continue
        try:
            read[name] = field.read(f"body.{name}", body[name])
        except Refusal as refused:
            found.append(refused)
    if kind is Kind.MEASURED and not found:
        found += _measured(read)
    if found:
        raise Refusals(tuple(found))
    return read


def _measured(read: dict[str, Any]) -> list[Refusal]:
    """Check the value against what was measured: words for a look, a number in range for the rest."""
    what = Measure(read["what"])
    value = read["value"]
    if what in LOOKS:
        if value in LOOKS[what]:
            return []
        return [Refusal("body.value", value, f"it must be one of {', '.join(LOOKS[what])}", "Choose one.")]
    low, high = LIMITS[what]
    if not isinstance(value, int | float) or isinstance(value, bool) or not low <= value <= high:
        return [Refusal("body.value", value, f"it must lie between {low:g} and {high:g}", "Read it again.")]
    read["value"] = float(value)
    return []


@dataclass(frozen=True, kw_only=True)
class _Field:
    read: Callable[[str, object], Any]
    needed: bool = False


def _words(name: str, value: object) -> str:
    if not isinstance(value, str) or len(value) > WORDS_MAX:
        raise Refusal(name, value, f"it must be text of at most {WORDS_MAX} characters", "Shorten it.")
    if "\0" in value or any("\ud800" <= mark <= "\udfff" for mark in value):
        raise Refusal(name, value, "it must hold letters only, no broken ones", "Type it anew.")
    return value


def _one_of(*allowed: str) -> Callable[[str, object], str]:
    def read(name: str, value: object) -> str:
        if value not in allowed:
            raise Refusal(name, value, f"it must be one of {', '.join(allowed)}", "Choose one.")
        return str(value)

    return read


def _number(low: float, high: float) -> Callable[[str, object], float]:
    def read(name: str, value: object) -> float:
        if not isinstance(value, int | float) or isinstance(value, bool) or not low <= value <= high:
            raise Refusal(name, value, f"it must lie between {low:g} and {high:g}", "Read it again.")
        return float(value)

    return read


def _whole(low: int, high: int) -> Callable[[str, object], int]:
    def read(name: str, value: object) -> int:
        if not isinstance(value, int) or isinstance(value, bool) or not low <= value <= high:
            raise Refusal(name, value, f"it must be a whole number from {low} to {high}", "Count again.")
        return value

    return read


def _truth(name: str, value: object) -> bool:
    if not isinstance(value, bool):
        raise Refusal(name, value, "it must be true or false", "Choose one.")
    return value


def _tubes(name: str, value: object) -> list[int]:
    if not isinstance(value, list) or len(value) > TUBES_MAX:
        raise Refusal(name, value, f"it must list at most {TUBES_MAX} tubes", "Choose the tubes.")
    return [_whole(1, TUBES_MAX)(name, one) for one in value]


def _anything(_name: str, value: object) -> object:
    return value


def _earlier(name: str, value: object) -> dict[str, Any]:
    if not isinstance(value, Mapping):
        raise Refusal(name, value, "it must be an object", "Send the fields of the amended entry.")
    return dict(value)


TUBE = _Field(read=_whole(1, TUBES_MAX))
TUBE_NEEDED = _Field(read=_whole(1, TUBES_MAX), needed=True)
WORDS = _Field(read=_words)
WORDS_NEEDED = _Field(read=_words, needed=True)
NAME_NEEDED = _Field(read=_words, needed=True)
MISHAP_NEEDED = _Field(read=_one_of(*MISHAPS), needed=True)
POSITION_NEEDED = _Field(read=_whole(1, 100_000), needed=True)

FIELDS: Mapping[Kind, Mapping[str, _Field]] = {
    Kind.BEGAN: {},
    Kind.DONE: {
        "prp_ml": _Field(read=_number(*LIMITS[Measure.PRP_ML])),
        "label_read": _Field(read=_truth),
        "clock_read": _Field(read=_truth),
        "more_minutes": _Field(read=_number(0.0, 240.0)),
        "words": WORDS,
    },
    Kind.TUBE: {
        "tube": TUBE_NEEDED,
        "what": _Field(read=_one_of(*TUBE_EVENTS), needed=True),
        "ml": _Field(read=_number(*LIMITS[Measure.TUBE_ML])),
    },
    Kind.SCANNED: {
        "code": NAME_NEEDED,
        "vessel": WORDS,
        "tube": TUBE,
        "own": _Field(read=_truth),
    },
    Kind.MEASURED: {
        "what": _Field(read=_one_of(*Measure), needed=True),
        "value": _Field(read=_anything, needed=True),
        "tube": TUBE,
        "words": WORDS,
    },
    Kind.RED_SEEN: {"tube": TUBE},
    Kind.RED_FATE: {"tube": TUBE_NEEDED, "fate": _Field(read=_one_of(*FATES), needed=True)},
    Kind.MISHAP: {
        "mishap": MISHAP_NEEDED,
        "tubes": _Field(read=_tubes),
        "ml": _Field(read=_number(*LIMITS[Measure.TUBE_ML])),
        "minutes": _Field(read=_number(0.0, 240.0)),
        "rpm": _Field(read=_number(0.0, 20_000.0)),
        "words": WORDS,
    },
    Kind.CHOSEN: {
        "mishap": MISHAP_NEEDED,
        "choice": NAME_NEEDED,
        "minutes": _Field(read=_number(0.0, 240.0)),
        "rpm": _Field(read=_number(0.0, 20_000.0)),
        "words": WORDS,
    },
    Kind.DIFFERS: {"words": WORDS},
    Kind.AMENDED: {
        "position": POSITION_NEEDED,
        "body": _Field(read=_earlier, needed=True),
        "words": WORDS_NEEDED,
    },
    Kind.REVIEWED: {"position": POSITION_NEEDED, "words": WORDS},
    Kind.SILENCED: {"clock": NAME_NEEDED},
    Kind.NOTE: {"words": WORDS_NEEDED},
    Kind.SIGNED: {
        "meaning": _Field(read=_one_of("released", "discarded", "stopped"), needed=True),
        "signer": NAME_NEEDED,
        "witnessed": _Field(read=_truth, needed=True),
        "label_read": _Field(read=_truth),
        "clock_read": _Field(read=_truth),
        "prp_ml": _Field(read=_number(*LIMITS[Measure.PRP_ML])),
        "words": WORDS,
    },
    Kind.OVERRIDDEN: {"what": _Field(read=_one_of("hold"), needed=True), "words": WORDS_NEEDED},
}
"""What an entry of each kind may hold."""
