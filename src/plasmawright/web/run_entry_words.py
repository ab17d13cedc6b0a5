"""What an entry of a run says, in words for paper."""

from collections.abc import Callable, Mapping
from typing import Any

from plasmawright.bench.entries import Kind, Measure
from plasmawright.bench.mishaps import MISHAPS, choice_of
from plasmawright.bench.press import WORDS
from plasmawright.bench.steps import Step

LOOKED_AT = frozenset({Step.LOOK, Step.SWIRL, Step.ACTIVATION})
"""Steps whose press says in words of its own what was seen, if it says anything."""

Body = Mapping[str, Any]
"""What an entry holds. Any: numbers, words and yes or no."""

MEASURED: Mapping[Measure, tuple[str, str]] = {
    Measure.INTERFACE_MM: ("red seen at", "mm"),
    Measure.PLASMA_MM: ("plasma stands", "mm high"),
    Measure.LOOK_INTERFACE_MM: ("red seen at a look into the spin at", "mm"),
    Measure.LOOK_MINUTES: ("looked after", "min"),
    Measure.WITHDRAWN_ML: ("withdrawn", "mL"),
    Measure.WITHDRAWN_G: ("withdrawn", "g"),
    Measure.POOLED_ML: ("pooled", "mL"),
    Measure.PPP_ML: ("platelet-poor plasma taken off", "mL"),
    Measure.PRP_ML: ("in hand", "mL"),
    Measure.TUBE_ML: ("blood in the tube", "mL"),
    Measure.MASS_G: ("weighed", "g"),
    Measure.INTERFACE_LOOK: ("edge", ""),
    Measure.PLASMA_LOOK: ("plasma", ""),
    Measure.PPP_LOOK: ("platelet-poor plasma", ""),
    Measure.SWIRL_LOOK: ("swirl", ""),
    Measure.ACTIVATED: ("activated", ""),
}
TUBE_EVENTS = {
    "counted": "count tube filled",
    "filled": "filled and inverted",
    "short": "filled short",
    "slow": "filled slowly",
    "failed": "stick failed",
    "withdrawn": "plasma is off",
}
FATES = {"left_out": "left out", "pooled": "pooled with the rest", "respun": "spun again"}
MEANINGS = {"released": "signed: released", "discarded": "signed: discarded", "stopped": "signed: stopped"}


def entry_words(kind: Kind, step: Step, body: Body) -> str:
    """Return what an entry says on one line."""
    return TELL[kind](step, body)


def _with_words(said: str, body: Body) -> str:
    return f"{said}: {body['words']}" if body.get("words") else said


def _number(value: object) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def _of_tube(body: Body) -> str:
    return f"tube {body['tube']}: " if body.get("tube") is not None else ""


def _done(step: Step, body: Body) -> str:
    said = ["looked at" if step in LOOKED_AT else WORDS.get(step, "done").lower()]
    said += [f"{body['more_minutes']:g} min more asked for"] if body.get("more_minutes") else []
    said += [f"{body['prp_ml']:g} mL in hand"] if "prp_ml" in body else []
    said += [f"{what} not read" for what in ("label", "clock") if body.get(f"{what}_read") is False]
    return _with_words(", ".join(said), body)


def _tube(_step: Step, body: Body) -> str:
    if body["what"] == "counted":
        return TUBE_EVENTS["counted"]
    volume = f", {body['ml']:g} mL" if "ml" in body else ""
    return f"tube {body['tube']} {TUBE_EVENTS[body['what']]}{volume}"


def _scanned(_step: Step, body: Body) -> str:
    if body.get("own"):
        return f"scanned {body.get('vessel', '')} {body['code']}"
    return f"scanned {body['code']}: a label of another run"


def _measured(_step: Step, body: Body) -> str:
    what, unit = MEASURED[Measure(body["what"])]
    return _with_words(f"{_of_tube(body)}{what} {_number(body['value'])} {unit}".rstrip(), body)


def _red_seen(_step: Step, body: Body) -> str:
    return f"{_of_tube(body)}red seen, kept apart"


def _red_fate(_step: Step, body: Body) -> str:
    return f"tube {body['tube']}: red plasma {FATES[body['fate']]}"


def _told(body: Body) -> str:
    said = [f"tubes {', '.join(str(one) for one in body['tubes'])}"] if body.get("tubes") else []
    said += [f"{body[key]:g} {unit}" for key, unit in (("ml", "mL"), ("minutes", "min"), ("rpm", "rpm")) if key in body]
    return f" ({', '.join(said)})" if said else ""


def _mishap(_step: Step, body: Body) -> str:
    known = MISHAPS.get(body["mishap"])
    return _with_words(f"{known.title if known else body['mishap']}{_told(body)}", body)


def _chosen(_step: Step, body: Body) -> str:
    choice = choice_of(body["mishap"], body["choice"])
    return _with_words(f"chosen: {choice.words if choice else body['choice']}{_told(body)}", body)


def _signed(_step: Step, body: Body) -> str:
    said = [MEANINGS[body["meaning"]]]
    said += [f"{body['prp_ml']:g} mL in hand"] if "prp_ml" in body else []
    said += ["label read"] if body.get("label_read") else []
    said += ["clock read"] if body.get("clock_read") else []
    said.append("witnessed" if body["witnessed"] else "not witnessed")
    return _with_words(", ".join(said), body)


TELL: Mapping[Kind, Callable[[Step, Body], str]] = {
    Kind.BEGAN: lambda _step, _body: "started",
    Kind.DONE: _done,
    Kind.TUBE: _tube,
    Kind.SCANNED: _scanned,
    Kind.MEASURED: _measured,
    Kind.RED_SEEN: _red_seen,
    Kind.RED_FATE: _red_fate,
    Kind.MISHAP: _mishap,
    Kind.CHOSEN: _chosen,
    Kind.DIFFERS: lambda _step, body: _with_words("something differs", body),
    Kind.AMENDED: lambda _step, body: _with_words(f"entry {body['position']} amended", body),
    Kind.REVIEWED: lambda _step, body: _with_words(f"entry {body['position']} looked at", body),
    Kind.SILENCED: lambda _step, body: f"sound of the {body['clock']} clock silenced",
    Kind.NOTE: lambda _step, body: f"note: {body['words']}",
    Kind.SIGNED: _signed,
    Kind.OVERRIDDEN: lambda _step, body: _with_words(f"{body['what']} limit passed by a clinician", body),
}
"""How each kind of entry is worded."""
