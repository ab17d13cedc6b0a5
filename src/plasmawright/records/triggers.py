"""What is written once stays: triggers that refuse to change or delete, on both databases.

They are made anew after every migration, since altering a column on SQLite builds a new table without them; every
command that opens the records migrates first, so this is also the check at start.
"""

from django.db import connections, transaction

IMMUTABLE = ("records_entry", "records_parameterset", "records_plan")

SQLITE = (
    "DROP TRIGGER IF EXISTS {table}_refuses_update",
    "CREATE TRIGGER {table}_refuses_update BEFORE UPDATE ON {table}"
    " BEGIN SELECT RAISE(ABORT, 'a row of {table} is never changed'); END",
    "DROP TRIGGER IF EXISTS {table}_refuses_delete",
    "CREATE TRIGGER {table}_refuses_delete BEFORE DELETE ON {table}"
    " BEGIN SELECT RAISE(ABORT, 'a row of {table} is never deleted'); END",
)

POSTGRESQL_FUNCTION = """
CREATE OR REPLACE FUNCTION records_refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'a row of % is never changed or deleted', TG_TABLE_NAME USING ERRCODE = '23000';
END $$
"""
POSTGRESQL = (
    "DROP TRIGGER IF EXISTS {table}_refuses_change ON {table}",
    "CREATE TRIGGER {table}_refuses_change BEFORE UPDATE OR DELETE ON {table}"
    " FOR EACH ROW EXECUTE FUNCTION records_refuse_change()",
    "DROP TRIGGER IF EXISTS {table}_refuses_truncate ON {table}",
    # TRUNCATE passes over triggers for each row: it needs one for the statement.
    "CREATE TRIGGER {table}_refuses_truncate BEFORE TRUNCATE ON {table}"
    " FOR EACH STATEMENT EXECUTE FUNCTION records_refuse_change()",
)


def make_triggers(*, using: str, **_signal: object) -> None:
    """Make every trigger of the database ``using``; called after each migration."""
    connection = connections[using]
    there = set(connection.introspection.table_names())
    on_sqlite = connection.vendor == "sqlite"
    statements = [] if on_sqlite else [POSTGRESQL_FUNCTION]
    for table in IMMUTABLE:
        if table in there:
            statements += [each.format(table=table) for each in (SQLITE if on_sqlite else POSTGRESQL)]
    with transaction.atomic(using=using), connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)
