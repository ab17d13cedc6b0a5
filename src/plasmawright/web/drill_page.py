"""The stop-line drill as a page shows it: the pulls of a series, the next one's form, how the hand stops."""

import secrets
from collections.abc import Mapping
from dataclasses import dataclass

from plasmawright.practice.drill import PULLS, Hand, Pull, hand_of, words_of
from plasmawright.records.models import Clinic, DrillPull, Person
from plasmawright.records.selectors.drill import hand, last_series, pulls_of
from plasmawright.records.selectors.shelf import tube_kinds
from plasmawright.web.bench_posted import number_in

SERIES_BYTES = 12
TEMPERATURE_C = "22"
AIMED_MM = "3"


@dataclass(frozen=True, kw_only=True)
class Bore:
    """One kind of tube of the shelf, by its bore."""

    name: str
    value: str


@dataclass(frozen=True, kw_only=True)
class DrillPage:
    """Everything the page shows.

    Parameters
    ----------
    number
        The pull that comes next, from 1.
    so_far
        How the hand stops by the pulls of this series; nothing before the second.
    whole
        By the newest whole series: what a plan takes.
    start
        What the next form holds before anybody types: the bore, the aim and the temperature stay as they were.
    """

    series: str
    number: int
    of: int
    pulls: tuple[DrillPull, ...]
    so_far: Hand | None
    so_far_words: str
    whole: Hand | None
    whole_words: str
    bores: tuple[Bore, ...]
    start: Mapping[str, str]


def drill_page(clinic: Clinic, person: Person, typed: Mapping[str, str]) -> DrillPage:
    """Return the page of a person: the series in hand goes on, and a whole one is followed by a new one."""
    series, pulls = standing_series(clinic, person)
    shown = pulls if pulls else _last_whole(clinic, person)
    so_far = hand_of([one.aimed_mm for one in pulls], [one.got_mm for one in pulls]) if len(pulls) >= 2 else None
    whole = hand(clinic=clinic, person=person)
    bores = tuple(Bore(name=kind.name, value=f"{kind.inner_diameter_mm:g}") for kind in tube_kinds(clinic))
    return DrillPage(
        series=series,
        number=len(pulls) + 1,
        of=PULLS,
        pulls=tuple(shown),
        so_far=so_far,
        so_far_words="" if so_far is None else words_of(so_far),
        whole=whole,
        whole_words="" if whole is None else words_of(whole),
        bores=bores,
        start={**_start(shown, bores), **typed},
    )


def standing_series(clinic: Clinic, person: Person) -> tuple[str, list[DrillPull]]:
    """Return the series a person is pulling and its pulls; a new one where the last is whole."""
    last = last_series(clinic=clinic, person=person)
    pulls = [] if last is None else pulls_of(clinic=clinic, series=last)
    if last is None or len(pulls) >= PULLS:
        return secrets.token_hex(SERIES_BYTES), []
    return last, pulls


def pull_in(posted: Mapping[str, str]) -> Pull:
    """Return the pull a form holds.

    Raises
    ------
    Refusal
        If a number is none.
    """
    bore = posted.get("bore_other", "").strip() or posted.get("bore", "")
    return Pull(
        aimed_mm=number_in("aimed_mm", posted.get("aimed_mm", "")),
        added_g=number_in("added_g", posted.get("added_g", "")),
        taken_g=number_in("taken_g", posted.get("taken_g", "")),
        inner_diameter_mm=number_in("bore", bore),
        temperature_c=number_in("temperature_c", posted.get("temperature_c", "") or TEMPERATURE_C),
    )


def _last_whole(clinic: Clinic, person: Person) -> list[DrillPull]:
    last = last_series(clinic=clinic, person=person)
    return [] if last is None else pulls_of(clinic=clinic, series=last)


def _start(pulls: list[DrillPull], bores: tuple[Bore, ...]) -> dict[str, str]:
    start = {"aimed_mm": AIMED_MM, "temperature_c": TEMPERATURE_C, "bore": bores[0].value if bores else ""}
    if not pulls:
        return start
    bore = f"{pulls[-1].inner_diameter_mm:g}"
    other = {} if bore in {one.value for one in bores} else {"bore_other": bore}
    return {**start, "aimed_mm": f"{pulls[-1].aimed_mm:g}", "bore": bore, **other}
