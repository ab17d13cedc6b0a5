"""Whether what is told fits the run it is told of."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from plasmawright.bench.entries import SIGNED_KINDS, Kind, Written, read_body
from plasmawright.bench.facts import Opening, RunFacts, start_of
from plasmawright.bench.mishaps import MISHAPS, choices_at
from plasmawright.bench.telling import amended_bodies, told
from plasmawright.errors import Refusal

STANDS = SIGNED_KINDS | {Kind.AMENDED, Kind.SCANNED}
"""Kinds that no amendment changes."""


def refuse_unfitting(facts: RunFacts, kind: Kind, body: Mapping[str, Any]) -> None:
    """Let an entry go on that speaks of this run's tubes, and chooses among the ways that are left.

    Raises
    ------
    Refusal
        If it names a tube the run has not, or chooses what is not offered at this step.
    """
    _refuse_unknown_tubes(facts, kind, body)
    if kind is Kind.CHOSEN:
        left = [choice.key for choice in choices_at(MISHAPS[body["mishap"]], facts.step)]
        if body["choice"] not in left:
            limit = f"at this step it must be one of {', '.join(left)}"
            raise Refusal("body.choice", body["choice"], limit, "Choose one.")


def _refuse_unknown_tubes(facts: RunFacts, kind: Kind, body: Mapping[str, Any]) -> None:
    if kind is Kind.TUBE and body["what"] == "counted":
        return
    named = [*body.get("tubes", ()), *([body["tube"]] if body.get("tube") is not None else [])]
    if wrong := [number for number in named if facts.tube(number) is None]:
        limit = f"tubes of this run are {', '.join(str(tube.number) for tube in facts.tubes)}"
        raise Refusal("body.tubes" if "tubes" in body else "body.tube", wrong[0], limit, "Choose the tubes.")


def refuse_undoing(opening: Opening, entries: Sequence[Written], amendment: Written) -> None:
    """Let an amendment go on that puts right what was told, and neither moves the run nor takes a doubt back.

    Raises
    ------
    Refusal, Refusals
        If it is of an entry that is not there or stands, would not have been taken, would have led the run elsewhere
        at any time since, or would make a void tube usable, an unknown dose known or the hold longer.
    """
    place = amendment.body["position"]
    meant = next((entry for entry in entries if entry.position == place), None)
    if meant is None:
        raise Refusal("body.position", place, f"the run has {len(entries)} entries", "Choose one of them.")
    body = amended_bodies(entries)[place]
    known = MISHAPS.get(body["mishap"]) if meant.kind is Kind.MISHAP else None
    if meant.kind in STANDS or (known is not None and known.voids):  # doubt of identity has no way back
        raise Refusal("body.position", place, f"a {meant.kind} entry stands", "Add a note instead.")
    merged = {**body, **amendment.body["body"]}
    read = read_body(meant.kind, merged)
    if renamed := [name for name in ("mishap", "choice") if merged.get(name) != body.get(name)]:
        limit = "a mishap and its choice stand as they were told"
        raise Refusal(f"body.body.{renamed[0]}", merged[renamed[0]], limit, "Add a note instead.")
    before, after = _stands(opening, entries), _stands(opening, [*entries, amendment])
    _refuse_unknown_tubes(before[-1], meant.kind, read)
    if any(was.step is not now.step for was, now in zip(before, after[: len(before)], strict=True)):
        limit = "an amendment may not lead the run elsewhere than it went"
        raise Refusal("body.body", "another way", limit, "Tell what is wrong as a mishap, or add a note.")
    if _lifts(before[-1], after[-1]):
        limit = "what is void stays void, a dose that is unknown stays unknown, and no hold begins later"
        raise Refusal("body.body", "a doubt taken back", limit, "Add a note instead.")


def _stands(opening: Opening, entries: Sequence[Written]) -> list[RunFacts]:
    """Return where a run stood after each entry, the amended ones as they now read."""
    bodies = amended_bodies(entries)
    found = [start_of(opening)]
    for entry in entries:
        found.append(told(found[-1], replace(entry, body=bodies[entry.position])))
    return found


def _lifts(before: RunFacts, after: RunFacts) -> bool:
    void = {tube.number for tube in before.tubes if tube.void}
    still_void = {tube.number for tube in after.tubes if tube.void}
    known_again = before.dose_unknown and not after.dose_unknown
    longer = before.drawn_from is not None and (after.drawn_from is None or after.drawn_from > before.drawn_from)
    return known_again or longer or (before.all_void and not after.all_void) or not void <= still_void
