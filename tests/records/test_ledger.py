"""The chained history: whole when nobody touched it, and every way of touching it is found and named."""

# ruff: noqa: S608 - whoever owns the database writes whatever SQL they like

import json
import stat
from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any

import pytest
from tests.builders import AT, make_clinic, make_person, make_plan, make_visit

from plasmawright.errors import Refusal
from plasmawright.records.models import Aside, ChainHead, Clinic, Entry, Person
from plasmawright.records.outside import heads_file, keep_head, kept_heads
from plasmawright.records.selectors.chain_walk import Broken
from plasmawright.records.selectors.ledger import history_of, ledger_verdict
from plasmawright.records.services.ledger import erase_words

pytestmark = [pytest.mark.database, pytest.mark.django_db, pytest.mark.usefixtures("own_folder")]

Tamper = Callable[..., None]
Commit = Callable[..., AbstractContextManager[Any]]  # Any: a list of what was called
LINES = 5


@pytest.fixture
def kept(own_folder: Path) -> tuple[Clinic, Person]:
    """Return a clinic whose chain has five lines: clinic, person, role, visit, plan."""
    clinic = make_clinic()
    person = make_person(clinic)
    make_plan(make_visit(clinic, person), person)
    return clinic, person


def broken() -> tuple[int, str] | None:
    """Return where the only clinic's chain is broken and how."""
    found = ledger_verdict().broken
    return None if found is None else (found.seq, found.kind.value)


def test_an_untouched_ledger_is_whole_and_tells_its_length_and_its_end(kept: tuple[Clinic, Person]) -> None:
    verdict = ledger_verdict()
    last = Entry.objects.of(kept[0]).latest("seq")
    assert verdict.as_document() == {"ok": True, "entries": LINES, "head": last.digest, "broken": None}


def test_each_line_holds_the_digest_of_the_one_before(kept: tuple[Clinic, Person]) -> None:
    entries = list(Entry.objects.of(kept[0]).order_by("seq"))
    assert [json.loads(entry.canonical)["previous"] for entry in entries] == ["", *(e.digest for e in entries[:-1])]


def test_names_stand_beside_the_chain_and_not_in_it(kept: tuple[Clinic, Person]) -> None:
    texts = " ".join(Entry.objects.of(kept[0]).values_list("canonical", flat=True))
    for name in (kept[0].name, kept[1].username, kept[1].display_name, "V-0007"):
        assert name not in texts
    assert set(Aside.objects.of(kept[0]).values_list("by", flat=True)) == {"test", "pim"}


@pytest.mark.parametrize(
    ("statements", "where"),
    [
        (["UPDATE records_entry SET canonical = canonical || ' ' WHERE seq = 2"], (2, "edited")),
        (["UPDATE records_entry SET canonical = replace(canonical, 'given', 'taken') WHERE seq = 3"], (3, "edited")),
        (["UPDATE records_entry SET about_id = about_id + 1 WHERE seq = 4"], (4, "edited")),
        (["UPDATE records_aside SET by = 'somebody else' WHERE by = 'pim'"], (4, "edited")),
        (["UPDATE records_aside SET words = 'never said' WHERE words = ''"], (1, "edited")),
        (["UPDATE records_aside SET salt = '', by = '' WHERE by = 'pim'"], (4, "edited")),
        (["DELETE FROM records_aside WHERE by = 'pim'"], (4, "edited")),
        (
            [
                "DELETE FROM records_aside WHERE entry_id IN (SELECT id FROM records_entry WHERE seq = 3)",
                "DELETE FROM records_entry WHERE seq = 3",
            ],
            (3, "missing"),
        ),
        (
            [
                "UPDATE records_entry SET seq = 99 WHERE seq = 2",
                "UPDATE records_entry SET seq = 2 WHERE seq = 3",
                "UPDATE records_entry SET seq = 3 WHERE seq = 99",
            ],
            (2, "reordered"),
        ),
        (
            ["UPDATE records_entry SET canonical = (SELECT canonical FROM records_entry WHERE seq = 4) WHERE seq = 3"],
            (3, "reordered"),
        ),
        (
            [
                "DELETE FROM records_aside WHERE entry_id IN (SELECT id FROM records_entry WHERE seq = 5)",
                "DELETE FROM records_entry WHERE seq = 5",
            ],
            (5, "truncated"),
        ),
        (["DELETE FROM records_aside", "DELETE FROM records_entry"], (1, "truncated")),
        (["DELETE FROM records_chainhead"], (6, "truncated")),
        (["UPDATE records_clinic SET name = 'South Clinic'"], (1, "state")),
        (["UPDATE records_person SET display_name = 'Another'"], (2, "state")),
        (["UPDATE records_membership SET role = 'manager'"], (3, "state")),
        (["UPDATE records_visit SET document_text = '{}'"], (4, "state")),
        (["UPDATE records_plan SET result_text = replace(result_text, '3.47', '3.48')"], (5, "state")),
        (["DELETE FROM records_plan"], (5, "state")),
    ],
)
def test_what_was_done_to_the_database_is_found_and_named(
    kept: tuple[Clinic, Person], tamper: Tamper, statements: list[str], where: tuple[int, str]
) -> None:
    assert broken() is None
    tamper(*statements)
    assert broken() == where


def test_a_row_put_in_behind_the_ledgers_back_is_found(kept: tuple[Clinic, Person], tamper: Tamper) -> None:
    tamper(
        "INSERT INTO records_visit (clinic_id, visit_text, document_text, reference, saved_at, saved_by_id)"
        " SELECT clinic_id, visit_text, document_text, reference, saved_at, saved_by_id FROM records_visit"
    )
    assert broken() == (0, "state")


def test_a_person_put_in_behind_the_ledgers_back_is_found(kept: tuple[Clinic, Person]) -> None:
    Person(username="mallory", display_name="Mallory", added_by="nobody", added_at=AT).save()
    assert broken() == (0, "state")


CUT = (
    "DELETE FROM records_plan",
    "DELETE FROM records_aside WHERE entry_id IN (SELECT id FROM records_entry WHERE seq = 5)",
    "DELETE FROM records_entry WHERE seq = 5",
    "UPDATE records_chainhead SET seq = 4, digest = (SELECT digest FROM records_entry WHERE seq = 4)",
)
"""A tail cut with care: the row it spoke of is gone as well, and the head in the database is put back."""


def make_committed(commit: Commit) -> tuple[Clinic, Person]:
    """Return a clinic whose five lines were committed, so that each one's end was kept outside the database."""
    with commit(execute=True):
        clinic = make_clinic()
        person = make_person(clinic)
        make_plan(make_visit(clinic, person), person)
    return clinic, person


def test_a_tail_cut_with_care_is_found_by_the_head_outside_the_database(
    tamper: Tamper, django_capture_on_commit_callbacks: Commit
) -> None:
    make_committed(django_capture_on_commit_callbacks)
    assert broken() is None
    tamper(*CUT)
    assert broken() == (5, "truncated")
    heads_file().unlink()
    assert broken() is None  # so it was the file that knew


def test_a_tail_cut_and_grown_again_is_found(tamper: Tamper, django_capture_on_commit_callbacks: Commit) -> None:
    clinic, person = make_committed(django_capture_on_commit_callbacks)
    tamper(*CUT)
    with django_capture_on_commit_callbacks(execute=True):
        make_visit(clinic, person)
        make_visit(clinic, person)
    assert broken() == (5, "truncated")


def test_a_tail_cut_with_care_is_found_by_a_head_somebody_wrote_down(
    kept: tuple[Clinic, Person], tamper: Tamper
) -> None:
    noted = ledger_verdict().head
    assert ledger_verdict([noted]).broken is None
    make_visit(*kept)
    assert ledger_verdict([noted]).broken is None  # an older head is still met
    tamper("DELETE FROM records_visit WHERE id = (SELECT max(id) FROM records_visit)", *CUT[:1])
    tamper(
        "DELETE FROM records_aside WHERE entry_id IN (SELECT id FROM records_entry WHERE seq >= 5)",
        "DELETE FROM records_entry WHERE seq >= 5",
        CUT[-1],
    )
    assert broken() is None
    found = ledger_verdict([noted]).broken
    assert found is not None
    assert (found.clinic, found.seq, found.kind.value) == ("North Clinic", 5, "truncated")


def test_a_whole_clinic_taken_out_is_found(tamper: Tamper, django_capture_on_commit_callbacks: Commit) -> None:
    make_committed(django_capture_on_commit_callbacks)
    tables = ("plan", "visit", "membership", "person", "aside", "entry", "chainhead", "clinic")
    tamper(*("DELETE FROM records_" + table for table in tables))
    assert broken() == (1, "truncated")


def test_erasing_leaves_a_tombstone_and_the_chain_still_verifies(kept: tuple[Clinic, Person]) -> None:
    clinic, person = kept
    entry = history_of(person, clinic)[0]
    erase_words(entry=entry, by="mo", at=AT)
    stone = Aside.objects.of(clinic).get(entry=entry)
    assert (stone.salt, stone.by, stone.words) == ("", "", "")
    assert entry.canonical == Entry.objects.of(clinic).get(pk=entry.pk).canonical
    assert broken() is None
    assert [json.loads(line.canonical)["erases"] for line in history_of(person, clinic)] == [[], [entry.seq]]
    with pytest.raises(Refusal, match="erased before"):
        erase_words(entry=entry, by="mo", at=AT)


def test_a_row_is_still_guarded_after_its_words_were_erased(kept: tuple[Clinic, Person], tamper: Tamper) -> None:
    clinic, person = kept
    erase_words(entry=history_of(person, clinic)[0], by="mo", at=AT)
    tamper("UPDATE records_person SET display_name = 'Another'")
    assert broken() == (6, "state")  # the line that accounts for the tombstone attests the row anew


def test_two_clinics_have_a_chain_each_and_the_broken_one_is_named(kept: tuple[Clinic, Person], tamper: Tamper) -> None:
    south = make_clinic("South Clinic")
    make_person(south, username="cleo")
    verdict = ledger_verdict()
    assert verdict.entries == LINES + 3
    assert verdict.head.split(",") == [ChainHead.objects.of(clinic).get().digest for clinic in (kept[0], south)]
    assert ledger_verdict(verdict.head.split(",")).broken is None
    tamper("UPDATE records_entry SET canonical = '{}' WHERE about_kind = 'person' AND clinic_id = " + str(south.pk))
    found = ledger_verdict().broken
    assert isinstance(found, Broken)
    assert found.as_document() == {"clinic": "South Clinic", "seq": 2, "kind": "edited"}


def test_a_line_is_not_written_into_another_clinics_chain(kept: tuple[Clinic, Person], tamper: Tamper) -> None:
    make_clinic("South Clinic")
    to_south = "(SELECT id FROM records_clinic WHERE name = 'South Clinic')"
    tamper(
        "UPDATE records_aside SET clinic_id = " + to_south + " WHERE by = 'pim'",
        "UPDATE records_entry SET clinic_id = " + to_south + ", seq = seq - 2 WHERE seq >= 4",
    )
    found = ledger_verdict().broken
    assert found is not None
    assert (found.clinic, found.seq, found.kind.value) == ("North Clinic", 4, "truncated")


def test_the_key_is_its_owners_alone_and_is_never_made_anew(kept: tuple[Clinic, Person], own_folder: Path) -> None:
    key = own_folder / "ledger/key"
    assert stat.S_IMODE(key.stat().st_mode) == 0o600
    assert len(bytes.fromhex(key.read_text(encoding="ascii"))) == 32  # as long as the digest it seals with
    key.unlink()
    for ask in (ledger_verdict, lambda: make_visit(*kept), lambda: make_clinic("South Clinic")):
        with pytest.raises(Refusal, match="ledger/key is missing"):
            ask()
    assert not key.exists()


def test_another_key_seals_nothing(kept: tuple[Clinic, Person], own_folder: Path) -> None:
    (own_folder / "ledger/key").write_text("00" * 32, encoding="ascii")
    assert broken() == (1, "edited")


def test_a_head_torn_by_a_power_cut_says_nothing(django_capture_on_commit_callbacks: Commit) -> None:
    clinic, _ = make_committed(django_capture_on_commit_callbacks)
    whole = kept_heads()
    assert len(whole[clinic.pk]) == LINES  # one for each line committed
    with heads_file().open("a", encoding="ascii") as writing:
        writing.write(f"{clinic.pk} 6 0f3a")
    assert kept_heads() == whole
    assert broken() is None
    keep_head(clinic_id=clinic.pk, seq=7, digest="ab" * 32)
    assert kept_heads()[clinic.pk] == whole[clinic.pk] | {(7, "ab" * 32)}, "the next head stands on a line of its own"
