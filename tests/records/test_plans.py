"""Visits, plans and parameter sets: kept as given, reopened as stored, seen by their own clinic alone."""

import json
import tomllib
from collections.abc import Iterator, Mapping
from copy import deepcopy
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from tests.builders import ANSWER, AT, VISIT_TEXT, make_clinic, make_person, make_plan, make_visit

from plasmawright.errors import Refusal, Refusals
from plasmawright.parameters.sets import drawn, from_document
from plasmawright.planning.choose import choose_plan
from plasmawright.planning.reading import visit_from
from plasmawright.planning.revise import Settled, revised_plan
from plasmawright.records.models import Plan
from plasmawright.records.selectors.plans import plan, plans_of, recomputed, visit, visits_of
from plasmawright.records.services.plans import inputs_digest, keep_parameter_set, save_visit

pytestmark = [pytest.mark.database, pytest.mark.django_db]

DRAWS = 16
AGREE_WITHIN = 1e-6
"""What a recomputation may differ by, relative: the promise made to whoever reopens a plan."""


def numbers(document: object, path: str = "") -> Iterator[tuple[str, float]]:
    """Yield every number of a document with where it stands."""
    if isinstance(document, Mapping):
        for key, value in document.items():
            yield from numbers(value, f"{path}.{key}")
    elif isinstance(document, list | tuple):
        for place, value in enumerate(document):
            yield from numbers(value, f"{path}.{place}")
    elif isinstance(document, int | float):
        yield path, float(document)


def test_a_visit_keeps_its_text_and_what_was_read_from_it() -> None:
    clinic = make_clinic()
    saved = make_visit(clinic, make_person(clinic))
    found = visit(clinic, saved.pk)
    assert found is not None
    assert found.visit_text == VISIT_TEXT
    assert found.reference == "V-0007"
    assert visit_from(found.document).patient.weight_kg == 68  # as the example file says


def test_what_is_no_visit_is_not_kept() -> None:
    clinic = make_clinic()
    person = make_person(clinic)
    with pytest.raises(Refusals, match=r"sites\.0\.volume_ml"):
        save_visit(clinic=clinic, document=_with_a_huge_site(), text="", by=person, at=AT)
    assert visits_of(clinic) == []


def _with_a_huge_site() -> dict[str, Any]:
    document: dict[str, Any] = deepcopy(tomllib.loads(VISIT_TEXT))
    document["sites"][0]["volume_ml"] = 9999
    return document


def test_a_saved_plan_reopens_byte_for_byte() -> None:
    clinic = make_clinic()
    person = make_person(clinic)
    answer = {"chosen": {"ml": 0.1 + 0.2, "rpm": 1280.0, "none": None}, "words": "5 µL ½ \u2013 “as said”"}
    saved = make_plan(make_visit(clinic, person), person, answer=answer)
    found = plan(clinic, saved.pk)
    assert found is not None
    assert found.result_text == json.dumps(answer, ensure_ascii=False)
    assert found.answer == answer  # 0.1 + 0.2 is 0.30000000000000004, which six digits would not bring back
    assert found.visit_text == VISIT_TEXT


@pytest.mark.slow
@pytest.mark.parametrize("origin", ["published numbers", "a set that was kept"])
def test_a_recomputation_agrees_with_the_plan_as_it_was_saved(origin: str) -> None:
    clinic = make_clinic()
    person = make_person(clinic)
    saved_visit = make_visit(clinic, person)
    kept = None
    parameters = drawn(count=DRAWS, seed=1)
    if origin == "a set that was kept":
        kept = keep_parameter_set(clinic=clinic, document=drawn(count=8, seed=5).as_document(), by=person, at=AT)
        parameters = from_document(kept.document, count=DRAWS, seed=1)
    answer = choose_plan(visit_from(saved_visit.document), parameters).as_document()
    saved = make_plan(saved_visit, person, answer=answer, draws=DRAWS, parameter_set=kept)
    found = plan(clinic, saved.pk)
    assert found is not None
    again = dict(numbers(recomputed(found)))
    assert again == pytest.approx(dict(numbers(found.answer["chosen"])), rel=AGREE_WITHIN)
    assert len(again) > 40  # a plan without its numbers would agree with anything


@pytest.mark.slow
def test_a_plan_with_a_stop_that_was_moved_is_recomputed_at_that_stop() -> None:
    clinic = make_clinic()
    person = make_person(clinic)
    saved_visit = make_visit(clinic, person)
    asked, parameters = visit_from(saved_visit.document), drawn(count=DRAWS, seed=1)
    answer = choose_plan(asked, parameters)
    moved = revised_plan(asked, Settled.of(answer.chosen), parameters, margin_mm=7.5)
    document = {**answer.as_document(), "chosen": moved.as_document()}
    saved = make_plan(saved_visit, person, answer=document, draws=DRAWS, settled_margin_mm=7.5)
    again = recomputed(saved)
    assert again["stop"]["above_cells_mm"] == 7.5  # type: ignore[index] # a plan's document is checked by its numbers
    assert dict(numbers(again)) == pytest.approx(dict(numbers(moved.as_document())), rel=AGREE_WITHIN)


def test_the_digest_of_the_inputs_changes_with_each_of_them() -> None:
    clinic = make_clinic()
    person = make_person(clinic)
    saved = make_plan(make_visit(clinic, person), person)
    kept = keep_parameter_set(clinic=clinic, document=drawn(count=2, seed=1).as_document(), by=person, at=AT)
    changes: list[dict[str, object]] = [
        {"seed": 2}, {"draws": 17}, {"margin_mm": 4.0}, {"model_version": "other"}, {"parameter_set": kept}
    ]  # fmt: skip
    digests = {saved.inputs_digest}
    for change in changes:
        other = Plan.objects.of(clinic).get(pk=saved.pk)
        assert inputs_digest(other) == saved.inputs_digest
        for name, value in change.items():
            setattr(other, name, value)
        digests.add(inputs_digest(other))
    assert len(digests) == 1 + len(changes)


def test_a_parameter_set_is_kept_once_and_only_as_it_was_learned() -> None:
    clinic = make_clinic()
    person = make_person(clinic)
    document = drawn(count=2, seed=1).as_document()
    first, second = (keep_parameter_set(clinic=clinic, document=document, by=person, at=AT) for _ in range(2))
    assert first == second
    assert first.digest == document["digest"]
    with pytest.raises(Refusal, match=r"parameters\.digest"):
        keep_parameter_set(clinic=clinic, document={**document, "weights": [1.0, 2.0]}, by=person, at=AT)


def test_a_plan_stands_on_its_own_clinics_parameters() -> None:
    north, south = make_clinic("North"), make_clinic("South")
    person = make_person(north)
    document = drawn(count=2, seed=1).as_document()
    kept = keep_parameter_set(clinic=south, document=document, by=make_person(south, username="cleo"), at=AT)
    with pytest.raises(Refusal, match="a set of this clinic"):
        make_plan(make_visit(north, person), person, parameter_set=kept)


def test_an_answer_without_a_chosen_plan_is_not_kept() -> None:
    clinic = make_clinic()
    person = make_person(clinic)
    with pytest.raises(Refusal, match="the plan that was chosen"):
        make_plan(make_visit(clinic, person), person, answer={"alternatives": []})


@pytest.mark.parametrize("wrong", [{"draws": 0}, {"seed": -1}, {"margin_mm": -0.5}, {"result_text": ""}])
def test_a_plan_that_could_never_be_is_refused_by_the_database(wrong: dict[str, object]) -> None:
    clinic = make_clinic()
    person = make_person(clinic)
    row = make_plan(make_visit(clinic, person), person)
    row.pk = None
    for name, value in wrong.items():
        setattr(row, name, value)
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save(force_insert=True)


def test_another_clinic_sees_none_of_it() -> None:
    north, south = make_clinic("North"), make_clinic("South")
    person = make_person(north)
    saved_visit = make_visit(north, person)
    saved = make_plan(saved_visit, person, answer=ANSWER)
    assert [row.pk for row in plans_of(north)] == [saved.pk]
    assert [row.pk for row in visits_of(north)] == [saved_visit.pk]
    assert plans_of(south) == []
    assert visits_of(south) == []
    assert plan(south, saved.pk) is None
    assert visit(south, saved_visit.pk) is None
