"""Preparations inside published documents: as they stand, and with values at named places changed."""

import copy
from collections.abc import Mapping

from plasmawright.errors import Refusal, Refusals
from plasmawright.preparation.protocol import Preparation
from plasmawright.preparation.reading import preparation_from


def read_preparation(body: Mapping[str, object], path: str, *, aside: tuple[str, ...]) -> Preparation:
    """Return the preparation in ``body``, leaving out the keys in ``aside``; a refusal says where it stands."""
    try:
        return preparation_from({key: value for key, value in body.items() if key not in aside})
    except Refusals as wrong:
        there = [Refusal(f"{path}.{one.field}", one.value, one.limit, one.remedy) for one in wrong.found]
        raise Refusals(there) from wrong


def changed(
    body: Mapping[str, object], change: Mapping[str, object], path: str, *, aside: tuple[str, ...]
) -> Preparation:
    """Return the preparation in ``body`` with the values at dotted places changed; steps are counted from 1.

    Raises
    ------
    Refusal
        If a place is not there.
    Refusals
        If what comes out cannot be used.
    """
    whole: dict[str, object] = copy.deepcopy(dict(body))
    for place, value in change.items():
        *way, last = place.split(".")
        at: object = whole
        for part in way:
            at = _inside(at, part, f"{path}.{place}")
        if not isinstance(at, dict):
            raise Refusal(path, place, "it must be a place in the base", "Write steps.1.rcf, say.")
        at[last] = value
    return read_preparation(whole, path, aside=aside)


def _inside(at: object, part: str, path: str) -> object:
    if isinstance(at, list) and part.isdecimal() and 1 <= int(part) <= len(at):
        return at[int(part) - 1]
    if isinstance(at, dict) and part in at:
        return at[part]
    raise Refusal(path, part, "it must be a place in the base", "Write steps.1.rcf, say; steps are counted from 1.")
