"""The one way into the chained ledger."""

import secrets
from datetime import UTC, datetime

from django.db import connection, models, transaction
from django.db.transaction import TransactionManagementError

from plasmawright.errors import Refusal
from plasmawright.records.attested import attested_fields, attested_models, kept_row, kind_of, state_of
from plasmawright.records.chain import Line, sealed, under_salt
from plasmawright.records.models import Aside, ChainHead, Clinic, Entry
from plasmawright.records.outside import keep_head, ledger_key, make_ledger_key
from plasmawright.records.room import refuse_without_room

SALT_BYTES = 16


def write_entry(
    *,
    clinic: Clinic,
    about: models.Model,
    became: str,
    by: str,
    at: datetime,
    words: str = "",
    erases: tuple[int, ...] = (),
) -> Entry:
    """Write the line that says what a row became, in the transaction that wrote the row.

    Parameters
    ----------
    about
        The row as it now stands in the database; the line attests its columns.
    became
        One plain word or two, such as ``saved``; never a name, since it cannot be erased.
    by, words
        A person's name and free text: kept beside the chain, so that they can be erased.
    erases
        Places in the chain whose names and words this line accounts for having erased.

    Raises
    ------
    TransactionManagementError
        Outside a transaction: a row could then be kept without its line.
    Refusal
        If the key that sealed the ledger is missing, or the disk has no room left.
    """
    refuse_without_room()
    if not connection.in_atomic_block:
        raise TransactionManagementError("write_entry belongs in the transaction that wrote the row")
    head = _locked_head(clinic)
    model = type(about)
    fields = attested_fields(model)
    salt = secrets.token_hex(SALT_BYTES)
    line = Line(
        clinic_id=clinic.pk,
        seq=head.seq + 1,
        previous=head.digest,
        at=at.astimezone(UTC).isoformat(),
        about_kind=kind_of(model),
        about_id=about.pk,
        became=became,
        by=under_salt(salt, by),
        words=under_salt(salt, words),
        attested=fields,
        state=under_salt(salt, state_of(kept_row(about), fields)),
        erases=erases,
    )
    entry = _kept(clinic, line)
    Aside(clinic=clinic, entry=entry, salt=salt, by=by, words=words).save(force_insert=True)
    head.seq, head.digest = line.seq, entry.digest
    head.save(update_fields=["seq", "digest"])
    # Once committed the line stands, whatever becomes of the file: a fault there is logged and the next head is kept.
    transaction.on_commit(lambda: keep_head(clinic_id=line.clinic_id, seq=line.seq, digest=entry.digest), robust=True)
    return entry


def _locked_head(clinic: Clinic) -> ChainHead:
    """Return the head of the clinic's chain, locked until the transaction ends.

    On SQLite every transaction that is opened to write already keeps all others out.
    """
    head = ChainHead.objects.of(clinic).select_for_update().first()
    if head is None:
        if not Entry._base_manager.exists():
            make_ledger_key()
        head = ChainHead(clinic=clinic)
        head.save(force_insert=True)
    return head


def _kept(clinic: Clinic, line: Line) -> Entry:
    canonical = line.canonical()
    entry = Entry(
        clinic=clinic,
        seq=line.seq,
        about_kind=line.about_kind,
        about_id=line.about_id,
        canonical=canonical,
        digest=sealed(ledger_key(), canonical),
    )
    entry.save(force_insert=True)
    return entry


@transaction.atomic
def erase_words(*, entry: Entry, by: str, at: datetime) -> None:
    """Erase the names and words of one line; the chain still verifies, and a new line accounts for the tombstone.

    The new line attests the row anew, since the erased salt takes the old attestation with it.

    Raises
    ------
    Refusal
        If they were erased before.
    """
    emptied = Aside.objects.of(entry.clinic).filter(entry=entry).exclude(salt="").update(salt="", by="", words="")
    if not emptied:
        raise Refusal("entry", entry.seq, "its words were erased before", "Choose another entry.")
    about = attested_models()[entry.about_kind]._base_manager.get(pk=entry.about_id)
    write_entry(clinic=entry.clinic, about=about, became="words erased", by=by, at=at, erases=(entry.seq,))
