"""Loads the rows of a backup into the database in use and proves them there: counts, references, the whole ledger."""

from contextlib import nullcontext
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from django.core.management import call_command
from django.db import connection, transaction

from plasmawright.errors import Refusal
from plasmawright.records.backup.history import build_as_it_was
from plasmawright.records.backup.manifest import Manifest, stamp
from plasmawright.records.backup.rows import read_rows
from plasmawright.records.outside import heads_file
from plasmawright.records.selectors.ledger import ledger_verdict


@dataclass(frozen=True, kw_only=True)
class Proven:
    """What was found whole."""

    entries: int
    head: str


def load_and_prove(scratch: Path, manifest: Manifest, *, replacing: bool, at: datetime) -> Proven:
    """Load the rows, bring the tables up to this version, and walk every chain.

    On SQLite the database in use is a new file in the scratch place. On PostgreSQL everything happens in one
    transaction, which is the scratch place: what does not prove is as if it had never been.

    Parameters
    ----------
    replacing
        On PostgreSQL: keep what is there under another schema's name; refused otherwise if there is anything.

    Raises
    ------
    Refusal
        If the database is in use, a count differs, or the ledger is not whole.
    """
    on_postgresql = connection.vendor == "postgresql"
    with transaction.atomic() if on_postgresql else nullcontext():
        if on_postgresql:
            _make_way(replacing=replacing, at=at)
        registry = build_as_it_was(manifest.applied)
        read_rows(scratch / "rows", registry, manifest.counts)
        call_command("migrate", verbosity=0, interactive=False)
        heads_file().write_bytes((scratch / "heads").read_bytes())
        heads_file().chmod(0o600)
        verdict = ledger_verdict(manifest.heads)
        if verdict.broken is not None:
            place = f"line {verdict.broken.seq} is {verdict.broken.kind}"
            raise Refusal("ledger in FILE", place, "it must be whole", "Use an earlier backup.")
    if not on_postgresql:
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.close()
    return Proven(entries=verdict.entries, head=verdict.head)


def _make_way(*, replacing: bool, at: datetime) -> None:
    """Leave the database without tables of ours; what was there stays under another schema's name."""
    tables = connection.introspection.table_names()
    if not tables:
        return
    if not replacing:
        limit = "it holds tables already"
        raise Refusal("DATABASE_URL", "a database in use", limit, "Name an empty one, or add --replace.")
    with connection.cursor() as cursor:
        aside = connection.ops.quote_name(f"before_restore_{stamp(at).lower()}")
        cursor.execute(f"ALTER SCHEMA public RENAME TO {aside}")
        cursor.execute("CREATE SCHEMA public")
