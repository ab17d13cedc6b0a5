"""A visit typed into a form is the visit of a file."""

from plasmawright.planning.reading import visit_from
from plasmawright.web.example import EXAMPLE, example_values
from plasmawright.web.visit_form import document_of, entered, facts_of, shown_form, values_of


def test_a_document_typed_into_the_form_comes_out_as_it_went_in() -> None:
    read = visit_from(document_of(example_values()))
    assert read == visit_from(EXAMPLE)


def test_sites_are_numbered_without_gaps() -> None:
    posted = {name.replace("sites.1.", "sites.7."): value for name, value in example_values().items()}
    assert entered(posted) == example_values()


def test_two_kinds_of_one_name_stay_two() -> None:
    document = document_of({**example_values(), "bench.second_tube": "collection"})
    read = visit_from(document)
    assert read.tubes[read.bench.tube].capacity_ml == 11
    assert read.tubes[read.bench.second_tube].capacity_ml == 15


def test_a_folded_group_opens_when_one_of_its_entries_is_refused() -> None:
    from plasmawright.errors import Refusal

    refusal = Refusal("tubes.collection.capacity_ml", 0, "it must hold something", "Measure it.")
    groups = {group.title: group for group in shown_form(example_values(), [refusal]).bench}
    assert groups["First tube"].refused
    assert not groups["Second tube"].refused


def test_what_was_not_counted_is_said_of_a_saved_visit() -> None:
    said = {fact.label: fact.value for part in facts_of(EXAMPLE) for fact in part.facts}
    assert said["White cells"] in {"not counted", "poor"}
    counts = next(part for part in facts_of(EXAMPLE) if part.title == "Blood counts")
    assert {fact.label: fact.value for fact in counts.facts}["White cells"] == "not counted"


def test_a_site_left_empty_is_refused_where_it_stands() -> None:
    values = values_of({**EXAMPLE, "sites": [{}]})
    assert values["sites.0.product"] == "prp"
    assert values["sites.0.volume_ml"] == ""
