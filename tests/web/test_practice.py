"""Practice: the Bench with nobody's blood, invented sights, trouble on request, and no trace in any statistic."""

import re
import time
from collections.abc import Mapping
from html import unescape

import pytest
from django.test import Client
from tests.builders import (
    bring_to,
    make_clinic,
    make_person,
    make_plan,
    make_run,
    make_visit,
    moment_after,
    real_answer,
    tell,
)

from plasmawright.bench.entries import Kind
from plasmawright.bench.mishaps import MISHAPS
from plasmawright.bench.steps import ORDER, Step
from plasmawright.planning.invented import invented
from plasmawright.planning.reading import visit_from
from plasmawright.planning.revise import Settled
from plasmawright.records.models import Clinic, Person, Plan, Role, Run, Signature
from plasmawright.records.selectors.runs import ended_runs, runs_on, stand
from plasmawright.records.services.pins import set_pin
from plasmawright.records.services.signatures import ReadBack, release_run
from plasmawright.records.services.tablets import enrol_tablet
from plasmawright.web.practice_seen import thought_of
from plasmawright.web.practice_trouble import trouble_at

pytestmark = [pytest.mark.database, pytest.mark.django_db]


class Training:
    """A clinic with one saved plan, an assistant at the browser, and who is needed besides."""

    def __init__(self, client: Client) -> None:
        self.client = client
        self.clinic: Clinic = make_clinic()
        self.pim: Person = make_person(self.clinic)
        self.cleo: Person = make_person(self.clinic, "cleo", Role.CLINICIAN)
        self.ash: Person = make_person(self.clinic, "ash", Role.ASSISTANT)
        self.plan: Plan = make_plan(make_visit(self.clinic, self.cleo), self.cleo, answer=real_answer())
        client.force_login(self.ash)

    def start(self, **form: str) -> Run:
        asked = {"plan": str(self.plan.pk), "pace": "30", "people": "two", **form}
        answer = self.client.post("/practice/", asked)
        assert answer.status_code == 302, answer.content.decode()
        return Run.objects.of(self.clinic).get(pk=int(answer.headers["Location"].split("/")[2]))

    def page(self, where: str) -> str:
        answer = self.client.get(where)
        assert answer.status_code == 200
        return " ".join(unescape(answer.content.decode()).split())


@pytest.fixture
def training(client: Client) -> Training:
    return Training(client)


def known(run: Run) -> Mapping[str, float]:
    """Return a run's invented blood once it is worked out; a few tenths of a second."""
    for _ in range(100):
        if (found := thought_of(run).found) is not None:
            return found
        time.sleep(0.1)
    raise AssertionError("the invented blood never came")


def test_an_assistant_opens_one_on_a_saved_plan_and_every_page_says_practice(training: Training) -> None:
    offered = training.page("/practice/")
    assert f'<option value="{training.plan.pk}"' in offered
    assert "The example" in offered
    run = training.start()
    assert (run.practice, run.pace, run.solo, run.patient_id) == (True, 30.0, False, None)
    for where in ("", "history/", "mishap/clot/"):
        assert "PRACTICE" in training.page(f"/bench/{run.pk}/{where}")


@pytest.mark.parametrize("form", [{"pace": "7"}, {"plan": "9999"}, {"plan": "x"}])
def test_what_was_not_offered_is_refused_and_nothing_is_opened(training: Training, form: dict[str, str]) -> None:
    answer = training.client.post("/practice/", {"plan": str(training.plan.pk), "pace": "10", **form})
    assert answer.status_code == 422
    assert not Run.objects.of(training.clinic).exists()


def test_the_example_is_worked_out_once_by_somebody_who_may_plan(training: Training) -> None:
    answer = training.client.post("/practice/", {"plan": "example", "pace": "1"})
    assert answer.status_code == 422, "an assistant makes no plans"
    training.client.force_login(training.pim)
    first = training.start(plan="example", pace="1")
    training.client.force_login(training.ash)
    assert training.start(plan="example").plan_id == first.plan_id


def test_the_bench_says_what_would_be_seen_and_it_is_one_draw_of_the_model(training: Training) -> None:
    run = training.start()
    told = known(run)
    plan = run.plan.answer["chosen"]
    expected = invented(
        visit_from(run.plan.visit.document),
        Settled.from_document(plan),
        seed=run.pk,
        margin_mm=plan["stop"]["above_cells_mm"],
    )
    assert told["interface_mm"] == expected.interface_mm
    bring_to(run, Step.LOOK, training.ash)
    assert f"You would see: <strong>the red at {round(2 * expected.interface_mm) / 2:.1f} mm</strong>" in training.page(
        f"/bench/{run.pk}/"
    )
    bring_to(run, Step.WITHDRAW, training.ash)
    assert f"{expected.plasma_ml:.1f} mL out of each tube" in training.page(f"/bench/{run.pk}/")
    bring_to(run, Step.TAKE_OFF, training.ash)
    off_ml = expected.plasma_ml * plan["tubes"] - plan["leave_ml"]
    assert f"{off_ml:.1f} mL come off" in training.page(f"/bench/{run.pk}/")


def test_a_run_in_earnest_is_told_nothing_invented_and_has_no_practice_pages(training: Training) -> None:
    run = make_run(training.clinic, training.pim, training.cleo)
    bring_to(run, Step.LOOK, training.pim)
    page = training.page(f"/bench/{run.pk}/")
    assert "You would see" not in page
    assert "Give me trouble" not in page
    for where in ("seen", "trouble"):
        assert training.client.get(f"/practice/{run.pk}/{where}/").status_code == 404
    assert training.client.post(f"/practice/{run.pk}/give-up/").status_code == 404


def test_trouble_fits_the_step_is_the_same_each_time_and_happens_only_once_it_is_told(training: Training) -> None:
    run = training.start()
    for step in ORDER[1:-1]:
        bring_to(run, step, training.ash)
        facts = stand(run)
        found = trouble_at(run.pk, facts)
        assert found is not None
        assert step in found.steps
        answer = training.client.get(f"/practice/{run.pk}/trouble/")
        assert answer.headers["Location"] == f"/bench/{run.pk}/mishap/{found.name}/"
        assert stand(run).mishaps == ()
    # over many runs every mishap of a step comes: which one is no habit to be learned
    facts = stand(run)
    came = {mishap.name for number in range(200) if (mishap := trouble_at(number, facts))}
    assert came == {name for name, mishap in MISHAPS.items() if facts.step in mishap.steps}


def test_a_mishap_that_was_met_does_not_come_again_while_others_are_left(training: Training) -> None:
    run = training.start()
    bring_to(run, Step.SOFT_SPIN, training.ash)
    tell(run, Kind.MISHAP, training.ash, mishap="faint")
    facts = stand(run)
    assert all(found.name != "faint" for number in range(100) if (found := trouble_at(number, facts)))


def test_giving_up_stops_the_run_once(training: Training) -> None:
    run = training.start()
    bring_to(run, Step.LOAD, training.ash)
    assert training.client.post(f"/practice/{run.pk}/give-up/").status_code == 302
    assert stand(run).step is Step.STOPPED
    positions = Run.objects.of(training.clinic).get(pk=run.pk).positions
    training.client.post(f"/practice/{run.pk}/give-up/")
    assert Run.objects.of(training.clinic).get(pk=run.pk).positions == positions


def test_practice_is_in_no_statistic_even_once_it_is_released(training: Training) -> None:
    mo = make_person(training.clinic, "mo", Role.MANAGER)
    tablet, _ = enrol_tablet(clinic=training.clinic, name="Bench", by=mo, at=moment_after().at)
    set_pin(person=training.pim, clinic=training.clinic, pin="274916", by="test", at=moment_after().at)
    run = make_run(training.clinic, training.ash, training.cleo, practice=True)
    bring_to(run, Step.RELEASE, training.ash)
    release_run(
        run=run, signer=training.pim, pin="274916", tablet=tablet, read=ReadBack(label=True, clock=True, prp_ml=3.0),
        by=training.ash, moment=moment_after(60.0 * (stand(run).position + 3)),
    )  # fmt: skip
    assert stand(run).step is Step.RELEASED
    assert Signature.objects.of(training.clinic).get(run=run).witnessed
    assert ended_runs(training.clinic) == []
    assert runs_on(training.clinic, moment_after().at.date()) == []
    assert "/patients/" not in re.sub(r"<nav.*?</nav>", "", training.page(f"/bench/{run.pk}/"))
