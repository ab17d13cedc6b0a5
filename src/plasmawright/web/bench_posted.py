"""An entry as a plain form of the bench posts it: the whole entry as JSON, and what was typed beside it."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.http import QueryDict

from plasmawright.bench.entries import Kind
from plasmawright.bench.steps import Step
from plasmawright.errors import Refusal

NUMBERS = frozenset({"value", "ml", "minutes", "rpm", "prp_ml"})
WORDS = frozenset({"words", "code"})
TUBE, TUBES, AMENDED_WORDS = "tube", "tubes", "amended_words"


@dataclass(frozen=True, kw_only=True)
class Posted:
    """One entry as it was posted. Any: what an entry holds differs in type."""

    kind: Kind
    step: Step
    body: Mapping[str, Any]
    key: str


def posted_entry(form: QueryDict) -> Posted:
    """Return the entry a form holds.

    Raises
    ------
    Refusal
        If it is no entry of ours, or a number is none.
    """
    entry = _entry(form.get("entry", ""))
    body = {**entry["body"], **_typed(form, entry["body"])}
    return Posted(kind=Kind(entry["kind"]), step=Step(entry["step"]), body=body, key=form.get("key", ""))


def _entry(text: str) -> dict[str, Any]:
    try:
        entry = json.loads(text)
        known = entry["kind"] in list(Kind) and entry["step"] in list(Step) and isinstance(entry["body"], dict)
    except (ValueError, TypeError, KeyError):
        known = False
    if not known:
        raise Refusal("entry", text or "missing", "it must be an entry of this page", "Load the page again.")
    read: dict[str, Any] = entry
    return read


def _typed(form: QueryDict, body: Mapping[str, Any]) -> dict[str, Any]:
    """Return what was typed into the form's own fields; an empty one says nothing."""
    found: dict[str, Any] = {}
    for name in NUMBERS & form.keys():
        if text := form.get(name, "").strip():
            found[name] = number_in(name, text)
    for name in WORDS & form.keys():
        if text := form.get(name, "").strip():
            found[name] = text
    if text := form.get(TUBE, "").strip():
        found[TUBE] = whole_in(TUBE, text)
    if TUBES in form:
        found[TUBES] = whole_all(form.getlist(TUBES))
    if text := form.get(AMENDED_WORDS, "").strip():
        found["body"] = {**body.get("body", {}), "words": text}
    return found


def number_in(name: str, text: str) -> float:
    """Return the number that was typed, a comma read as a point."""
    try:
        return float(text.replace(",", "."))
    except ValueError as fault:
        raise Refusal(name, text, "it must be a number", "Write it in digits, such as 4.9.") from fault


def whole_in(name: str, text: str) -> int:
    """Return the whole number that was typed."""
    if not (text.isascii() and text.isdigit() and len(text) < 7):
        raise Refusal(name, text, "it must be a whole number", "Choose one of the tubes.")
    return int(text)


def whole_all(texts: Sequence[str]) -> list[int]:
    """Return the tubes that were tapped."""
    return [whole_in(TUBES, text) for text in texts]
