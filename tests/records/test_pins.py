"""PINs: set by oneself or a manager, checked on enrolled tablets, slowed where they fail and nowhere else."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from tests.builders import AT, make_clinic, make_person

from plasmawright.errors import Refusal
from plasmawright.records.models import Clinic, Entry, Person, Pin, PinTry, Role, Tablet
from plasmawright.records.selectors.ledger import history_of, ledger_verdict
from plasmawright.records.services.people import end_role, give_role
from plasmawright.records.services.pins import check_pin, easily_guessed, set_pin
from plasmawright.records.services.tablets import enrol_tablet, revoke_tablet

pytestmark = [pytest.mark.database, pytest.mark.django_db]

PIN, WRONG = "274916", "274917"


@pytest.fixture
def clinic() -> Clinic:
    return make_clinic()


@pytest.fixture
def manager(clinic: Clinic) -> Person:
    return make_person(clinic, username="mo", role=Role.MANAGER)


@pytest.fixture
def pim(clinic: Clinic) -> Person:
    person = make_person(clinic)
    set_pin(person=person, clinic=clinic, pin=PIN, by=person, at=AT)
    return person


@pytest.fixture
def hood(clinic: Clinic, manager: Person) -> Tablet:
    return enrol_tablet(clinic=clinic, name="hood", by=manager, at=AT)[0]


@pytest.fixture
def chair(clinic: Clinic, manager: Person) -> Tablet:
    return enrol_tablet(clinic=clinic, name="chair", by=manager, at=AT)[0]


def fail(person: Person, tablet: Tablet, after_s: float) -> str:
    """Type a wrong PIN so many seconds after the start, and return what the refusal says."""
    with pytest.raises(Refusal) as refused:
        check_pin(person=person, tablet=tablet, pin=WRONG, at=AT + timedelta(seconds=after_s))
    return str(refused.value)


def passes(person: Person, tablet: Tablet, after_s: float) -> bool:
    """Return whether the right PIN is looked at, and so let through, so many seconds after the start."""
    try:
        check_pin(person=person, tablet=tablet, pin=PIN, at=AT + timedelta(seconds=after_s))
    except Refusal as refused:
        if "not looked at" in str(refused):
            return False
        raise
    return True


def test_a_pin_is_kept_as_an_argon2_digest_with_a_line_of_history(clinic: Clinic, pim: Person) -> None:
    kept = Pin.objects.of(clinic).get(person=pim)
    assert kept.pin_hash.startswith("argon2$")
    assert PIN not in kept.pin_hash
    assert len(history_of(kept, clinic)) == 1
    set_pin(person=pim, clinic=clinic, pin="816352", by=pim, at=AT)
    assert len(history_of(kept, clinic)) == 2
    assert PIN not in "".join(Entry.objects.of(clinic).values_list("canonical", flat=True))


def test_the_database_refuses_a_pin_in_the_clear_and_a_second_one(clinic: Clinic, pim: Person) -> None:
    for person, pin_hash in ((make_person(clinic, "cleo"), PIN), (pim, "argon2$argon2id$other")):
        with pytest.raises(IntegrityError), transaction.atomic():
            Pin(clinic=clinic, person=person, pin_hash=pin_hash, set_at=AT, set_by="test").save()


@pytest.mark.parametrize("pin", ["", "12345", "1234567", "27491a", "27 916", "２７４９１６", "-27491", "274916\n"])
def test_six_plain_digits_are_a_pin_and_nothing_else_is(clinic: Clinic, pim: Person, pin: str) -> None:
    with pytest.raises(Refusal, match="pin is not six digits"):
        set_pin(person=pim, clinic=clinic, pin=pin, by=pim, at=AT)


@pytest.mark.parametrize(
    "pin",
    [
        "000000", "111111", "999999",  # all the same
        "123456", "234567", "654321", "987654", "890123", "135791", "864208",  # equal steps
        "121212", "122122", "000001", "100000", "454545",  # two digits alone
        "123123", "692692", "123321", "702207",  # a half repeated or mirrored
        "112233", "774411",  # three doubled digits
        "147258", "258369", "159753", "789456", "951357",  # lines of a keypad
    ],
)  # fmt: skip
def test_a_pin_that_somebody_would_try_first_is_refused(pin: str) -> None:
    assert easily_guessed(pin)


def test_most_pins_are_not_easily_guessed() -> None:
    tried = range(0, 1_000_000, 31)
    refused = sum(easily_guessed(f"{number:06d}") for number in tried)
    assert 0 < refused < len(tried) / 100  # a random one is hardly ever refused
    assert not easily_guessed(PIN)


def test_a_trivial_pin_is_refused_without_repeating_it(clinic: Clinic, pim: Person) -> None:
    with pytest.raises(Refusal) as refused:
        set_pin(person=pim, clinic=clinic, pin="123456", by=pim, at=AT)
    assert "123456" not in str(refused.value)
    assert "too easily guessed" in str(refused.value)


def test_one_pin_for_all_is_refused_in_the_same_words_as_a_trivial_one(clinic: Clinic, pim: Person) -> None:
    cleo = make_person(clinic, username="cleo", role=Role.CLINICIAN)
    said = []
    for pin in ("000000", PIN):
        with pytest.raises(Refusal) as refused:
            set_pin(person=cleo, clinic=clinic, pin=pin, by=cleo, at=AT)
        said.append(str(refused.value))
    assert said[0] == said[1]  # or the words would tell whose it is not
    set_pin(person=pim, clinic=clinic, pin=PIN, by=pim, at=AT)  # one's own may be set again


def test_a_pin_belongs_to_one_clinic(clinic: Clinic, pim: Person) -> None:
    south = make_clinic("South Clinic")
    boss = make_person(south, username="bo", role=Role.MANAGER)
    with pytest.raises(Refusal, match="must hold a role in South Clinic"):
        set_pin(person=pim, clinic=south, pin="816352", by=boss, at=AT)
    give_role(person=pim, clinic=south, role=Role.PREPARER, by=boss, at=AT)
    set_pin(person=pim, clinic=south, pin="816352", by=boss, at=AT)
    there, _ = enrol_tablet(clinic=south, name="hood", by=boss, at=AT)
    with pytest.raises(Refusal, match="not the right one"):
        check_pin(person=pim, tablet=there, pin=PIN, at=AT)
    check_pin(person=pim, tablet=there, pin="816352", at=AT)


def test_the_right_pin_is_let_through_and_leaves_the_ledger_whole(clinic: Clinic, pim: Person, hood: Tablet) -> None:
    before = Entry.objects.of(clinic).count()
    assert passes(pim, hood, 0)
    fail(pim, hood, 1)
    assert Entry.objects.of(clinic).count() == before
    assert ledger_verdict().broken is None


def test_three_failures_bring_thirty_seconds_doubling_up_to_a_quarter_of_an_hour(pim: Person, hood: Tablet) -> None:
    now_s = 0.0
    for _ in range(2):
        assert "Try again." in fail(pim, hood, now_s)
    for wait_s in (30, 60, 120, 240, 480, 900, 900, 900):
        assert f"Try again in {wait_s} s" in fail(pim, hood, now_s)
        assert not passes(pim, hood, now_s + wait_s - 1)
        now_s += wait_s
    assert passes(pim, hood, now_s)
    assert "Try again." in fail(pim, hood, now_s)  # the right one begins the count anew


def test_a_try_during_the_wait_is_neither_looked_at_nor_counted(pim: Person, hood: Tablet) -> None:
    for _ in range(3):
        fail(pim, hood, 0)
    for second in range(1, 30):
        assert not passes(pim, hood, second)
    assert passes(pim, hood, 30)


def test_failures_slow_that_person_on_that_tablet_only(
    clinic: Clinic, pim: Person, hood: Tablet, chair: Tablet
) -> None:
    cleo = make_person(clinic, username="cleo", role=Role.CLINICIAN)
    set_pin(person=cleo, clinic=clinic, pin="816352", by=cleo, at=AT)
    for _ in range(3):
        fail(pim, hood, 0)
    assert not passes(pim, hood, 0)
    assert passes(pim, chair, 0)
    check_pin(person=cleo, tablet=hood, pin="816352", at=AT)
    assert not passes(pim, hood, 1)  # being right elsewhere opens nothing here


def test_a_million_failures_lock_no_account(clinic: Clinic, pim: Person, hood: Tablet, chair: Tablet) -> None:
    fail(pim, hood, 0)
    PinTry.objects.of(clinic).update(failures=1_000_000)
    assert "Try again in 900 s" in fail(pim, hood, 1)
    assert Person.objects.get(pk=pim.pk).is_active
    assert passes(pim, chair, 2)
    assert passes(pim, hood, 901)


def test_a_clock_that_is_set_back_stretches_no_wait(pim: Person, hood: Tablet) -> None:
    for _ in range(3):
        fail(pim, hood, 3600)
    assert passes(pim, hood, 0)


def test_a_new_pin_ends_the_wait(clinic: Clinic, manager: Person, pim: Person, hood: Tablet) -> None:
    for _ in range(3):
        fail(pim, hood, 0)
    set_pin(person=pim, clinic=clinic, pin="816352", by=manager, at=AT)
    check_pin(person=pim, tablet=hood, pin="816352", at=AT)
    assert PinTry.objects.of(clinic).get().failures == 0


def test_without_a_role_a_pin_or_an_enrolled_tablet_nobody_passes(
    clinic: Clinic, manager: Person, pim: Person, hood: Tablet, chair: Tablet
) -> None:
    with pytest.raises(Refusal, match="pin is not set"):
        check_pin(person=manager, tablet=hood, pin=PIN, at=AT)
    revoke_tablet(tablet=chair, by=manager, at=AT)
    with pytest.raises(Refusal, match="tablet is chair; it is not enrolled"):
        check_pin(person=pim, tablet=chair, pin=PIN, at=AT)
    end_role(person=pim, clinic=clinic, role=Role.PREPARER, by=manager, at=AT)
    with pytest.raises(Refusal, match="must hold a role"):
        check_pin(person=pim, tablet=hood, pin=PIN, at=AT)
    give_role(person=pim, clinic=clinic, role=Role.PREPARER, by=manager, at=AT)
    Person.objects.filter(pk=pim.pk).update(is_active=False)
    pim.refresh_from_db()
    with pytest.raises(Refusal, match="must hold a role"):
        check_pin(person=pim, tablet=hood, pin=PIN, at=AT)


def test_a_pin_that_was_swapped_in_the_database_is_found_by_the_ledger(clinic: Clinic, pim: Person) -> None:
    assert ledger_verdict().broken is None
    Pin.objects.of(clinic).filter(person=pim).update(pin_hash="argon2$another")
    broken = ledger_verdict().broken
    assert broken is not None
    assert broken.kind == "state"
