"""What was entered for a visit: form to document and back, and the form as the page shows it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from plasmawright.errors import Refusal
from plasmawright.web.entry import (
    Entries,
    Entry,
    Field,
    Sentences,
    sentences_of,
    shown_entry,
    shown_group,
    table_at,
    text_of,
    value_in,
)
from plasmawright.web.visit_fields import BENCH_GROUPS, FIELDS, FIRST, NOT_COUNTED, PERSON_GROUPS, SECOND, site_fields

CALLED_FIRST, CALLED_SECOND = "collection", "second"
SITE_ROWS_MAX = 24


@dataclass(frozen=True, kw_only=True)
class Site:
    """One row of sites as the page shows it; ``number`` counts from 1, as people do."""

    number: int
    entries: tuple[Entry, ...]


@dataclass(frozen=True, kw_only=True)
class Form:
    """The whole form; ``blank`` is the row that the page adds."""

    person: tuple[Entries, ...]
    sites: tuple[Site, ...]
    blank: Site
    bench: tuple[Entries, ...]
    unplaced: tuple[str, ...]
    refused: tuple[Entry, ...]


def fields_for(rows: int) -> tuple[Field, ...]:
    """Return every field of a form with so many sites."""
    return (*FIELDS, *(field for number in range(rows) for field in site_fields(number)))


def blank_values() -> dict[str, str]:
    """Return a form nobody has touched: one empty site, choices at their start."""
    return {field.name: field.start for field in fields_for(1)}


def entered(posted: Mapping[str, str]) -> dict[str, str]:
    """Return what stands in every field, sites numbered from 0 without gaps."""
    numbers = sorted({int(name.split(".")[1]) for name in posted if _names_a_site(name)})[: SITE_ROWS_MAX + 1]
    values = {field.name: posted.get(field.name, "").strip() for field in FIELDS}
    for place, number in enumerate(numbers):
        for here, there in zip(site_fields(place), site_fields(number), strict=True):
            values[here.name] = posted.get(there.name, "").strip()
    return values


def _names_a_site(name: str) -> bool:
    match name.split("."):
        case ["sites", number, _]:
            return number.isdecimal() and len(number) <= 3
    return False


def rows_in(values: Mapping[str, str]) -> int:
    """Return how many sites were entered."""
    return sum(1 for name in values if name.startswith("sites.") and name.endswith(".volume_ml"))


def document_of(values: Mapping[str, str]) -> dict[str, object]:
    """Return the visit file that ``values`` amount to, for ``visit_from`` to judge."""
    rows = rows_in(values)
    sites: list[dict[str, object]] = [{} for _ in range(rows)]
    document: dict[str, object] = {"patient": {}, "blood": {}, "bench": {}, "rotor": {}, "tubes": {}}
    names = _tube_names(values)
    for field in fields_for(rows):
        if not (text := values.get(field.name, "")):
            continue
        value = value_in(field, text)
        match field.name.split("."):
            case ["sites", number, key]:
                sites[int(number)][key] = value
            case ["tubes", which, key]:
                table_at(document, ["tubes", names[f"tubes.{which}"]])[key] = value
            case [*path, key]:
                table_at(document, path)[key] = value
    bench = table_at(document, ["bench"])
    bench["tube"], bench["second_tube"] = names[FIRST], names[SECOND]
    return {**document, "sites": sites}


def _tube_names(values: Mapping[str, str]) -> dict[str, str]:
    """Return what the two kinds are called; two of one name would overwrite each other."""
    first = values.get("bench.tube") or CALLED_FIRST
    second = values.get("bench.second_tube") or CALLED_SECOND
    return {FIRST: first, SECOND: second if second != first else f"{second}, second"}


def values_of(document: Mapping[str, Any]) -> dict[str, str]:
    """Return the form that makes ``document``; what the form has no field for is left behind."""
    sites = document.get("sites", [])
    bench, tubes = document.get("bench", {}), document.get("tubes", {})
    kinds = {"first": tubes.get(bench.get("tube"), {}), "second": tubes.get(bench.get("second_tube"), {})}
    values = {}
    for field in fields_for(len(sites)):
        match field.name.split("."):
            case ["sites", number, key]:
                value = sites[int(number)].get(key, field.start)
            case ["tubes", which, key]:
                value = kinds[which].get(key, field.start)
            case [section, key]:
                value = document.get(section, {}).get(key, field.start)
        values[field.name] = text_of(value)
    return values


@dataclass(frozen=True, kw_only=True)
class Fact:
    """One thing a saved visit says."""

    label: str
    value: str
    unit: str


@dataclass(frozen=True, kw_only=True)
class Facts:
    """What a saved visit says under one heading."""

    title: str
    facts: tuple[Fact, ...]


def facts_of(document: Mapping[str, Any]) -> tuple[Facts, ...]:
    """Return what a saved visit says, as it was entered; what was left empty is said where that means something."""
    form = shown_form(values_of(document))
    sites = tuple(Facts(title=f"Site {site.number}", facts=_facts(site.entries)) for site in form.sites)
    person, bench = (
        tuple(Facts(title=group.title, facts=_facts(group.entries)) for group in groups)
        for groups in (form.person, form.bench)
    )
    return tuple(part for part in (*person, *sites, *bench) if part.facts)


def _facts(entries: Iterable[Entry]) -> tuple[Fact, ...]:
    return tuple(
        Fact(label=entry.field.label, value=_said(entry), unit=entry.field.unit if entry.value else "")
        for entry in entries
        if entry.value or entry.field.when_empty == NOT_COUNTED
    )


def _said(entry: Entry) -> str:
    labels = {choice.value: choice.label for choice in entry.field.choices}
    return labels.get(entry.value, entry.value) or entry.field.when_empty


def shown_form(values: Mapping[str, str], refused: Iterable[Refusal] = ()) -> Form:
    """Return the form as the page shows it, each refused field beside the sentences that refuse it."""
    sentences = _at_their_fields(values, sentences_of(refused))
    sites = tuple(_site(number, values, sentences) for number in range(rows_in(values)))
    person = tuple(shown_group(group, values, sentences) for group in PERSON_GROUPS)
    bench = tuple(shown_group(group, values, sentences) for group in BENCH_GROUPS)
    everything = [entry for group in (*person, *bench) for entry in group.entries]
    everything += [entry for site in sites for entry in site.entries]
    known = {entry.field.name for entry in everything}
    return Form(
        person=person,
        sites=sites,
        blank=_site(0, {field.name: field.start for field in site_fields(0)}, {}),
        bench=bench,
        unplaced=tuple(words for name, found in sentences.items() if name not in known for words in found),
        refused=tuple(entry for entry in everything if entry.refusals),
    )


def _site(number: int, values: Mapping[str, str], sentences: Sentences) -> Site:
    return Site(
        number=number + 1, entries=tuple(shown_entry(field, values, sentences) for field in site_fields(number))
    )


def _at_their_fields(values: Mapping[str, str], sentences: Sentences) -> Sentences:
    """Return the sentences under the form's own names: a kind of tube is called there what a person calls it."""
    placed: dict[str, tuple[str, ...]] = {}
    for name, found in sentences.items():
        for prefix, called in _tube_names(values).items():
            if name.startswith(f"tubes.{called}."):
                placed[f"{prefix}.{name.removeprefix(f'tubes.{called}.')}"] = found
                break
        else:
            placed[name] = found
    return placed
