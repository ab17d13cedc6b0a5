"""What is written once stays: triggers that refuse to change or delete, on both databases.

They are looked for after every migration, since altering a column on SQLite builds a new table without them; every
command that opens the records migrates first, so this is also the check at start. Only what is missing is made: making
a trigger waits for everybody who is writing.
"""

from django.db import connections, transaction
from django.db.backends.utils import CursorWrapper

IMMUTABLE = (
    "records_check",
    "records_clinicsetting",
    "records_drillpull",
    "records_entry",
    "records_foresight",
    "records_lotuse",
    "records_parameterset",
    "records_plan",
    "records_runentry",
    "records_signature",
    "records_stockmovement",
    "records_vessel",
)

SQLITE = {
    "{table}_refuses_update": "BEFORE UPDATE ON {table}"
    " BEGIN SELECT RAISE(ABORT, 'a row of {table} is never changed or deleted'); END",
    "{table}_refuses_delete": "BEFORE DELETE ON {table}"
    " BEGIN SELECT RAISE(ABORT, 'a row of {table} is never changed or deleted'); END",
}
POSTGRESQL = {
    "{table}_refuses_change": "BEFORE UPDATE OR DELETE ON {table}"
    " FOR EACH ROW EXECUTE FUNCTION records_refuse_change()",
    # TRUNCATE passes over triggers for each row: it needs one for the statement.
    "{table}_refuses_truncate": "BEFORE TRUNCATE ON {table}"
    " FOR EACH STATEMENT EXECUTE FUNCTION records_refuse_change()",
}
POSTGRESQL_FUNCTION = """
CREATE OR REPLACE FUNCTION records_refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'a row of % is never changed or deleted', TG_TABLE_NAME USING ERRCODE = '23000';
END $$
"""
# Two commands that start together may not replace the function together; the number means nothing.
POSTGRESQL_TURN = "SELECT pg_advisory_xact_lock(7204461)"

STANDING = {
    "sqlite": "SELECT name FROM sqlite_master WHERE type = 'trigger'",
    "postgresql": "SELECT tgname FROM pg_trigger WHERE tgenabled = 'O' AND pg_table_is_visible(tgrelid)",
}


def make_triggers(*, using: str, **_signal: object) -> None:
    """Make every trigger that the database ``using`` lacks; called after each migration."""
    connection = connections[using]
    on_sqlite = connection.vendor == "sqlite"
    there = set(connection.introspection.table_names())
    with transaction.atomic(using=using), connection.cursor() as cursor:
        if not on_sqlite:
            cursor.execute(POSTGRESQL_TURN)
            cursor.execute(POSTGRESQL_FUNCTION)
        cursor.execute(STANDING[connection.vendor])
        standing = {name for (name,) in cursor.fetchall()}
        for table in IMMUTABLE:
            if table in there:
                _make_missing(cursor, table, SQLITE if on_sqlite else POSTGRESQL, standing)


def _make_missing(cursor: CursorWrapper, table: str, triggers: dict[str, str], standing: set[str]) -> None:
    """Make the triggers of one table that do not stand; one that was switched off is made anew."""
    for pattern, body in triggers.items():
        name = pattern.format(table=table)
        if name not in standing:
            owner = f" ON {table}" if triggers is POSTGRESQL else ""
            cursor.execute(f"DROP TRIGGER IF EXISTS {name}{owner}")
            cursor.execute(f"CREATE TRIGGER {name} {body.format(table=table)}")
