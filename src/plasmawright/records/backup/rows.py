"""Every row of the records as plain text, the same from both databases, and back into either."""

import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from itertools import islice
from pathlib import Path
from typing import Any  # a row's values are of whatever kind its columns hold

from django.apps import apps
from django.apps.registry import Apps
from django.core.management.color import no_style
from django.db import connection, models, transaction

from plasmawright.errors import Refusal

MADE_ANEW = frozenset({"auth", "contenttypes", "django_tasks_database", "sessions"})
"""Parts whose rows are not kept: they make them themselves, or nobody misses them after signing in anew."""
ROWS_AT_ONCE = 500


@contextmanager
def one_moment() -> Iterator[None]:
    """Show everything read inside as it was at one moment, without keeping writers waiting."""
    if connection.vendor == "sqlite":
        # A transaction begun as Django begins it would be opened to write, and hold everybody up.
        with connection.cursor() as cursor:
            cursor.execute("BEGIN DEFERRED")
            cursor.execute("SELECT count(*) FROM sqlite_master")  # the moment is that of the first look
            try:
                yield
            finally:
                cursor.execute("ROLLBACK")
        return
    with transaction.atomic():
        with connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        yield


def kept_models(registry: Apps = apps) -> list[type[models.Model]]:
    """Return every kind of row that a backup keeps, as the code or an earlier migration knows it."""
    found = registry.get_models(include_auto_created=True)
    return [
        model
        for model in found
        if model._meta.app_label not in MADE_ANEW and model._meta.managed and not model._meta.proxy
    ]


def write_rows(folder: Path) -> dict[str, int]:
    """Write one file for each kind of row and return how many rows each holds."""
    counts = {}
    for model in kept_models():
        fields = model._meta.concrete_fields
        with (folder / f"{model._meta.label_lower}.jsonl").open("w", encoding="utf-8") as writing:
            writing.write(json.dumps([field.attname for field in fields]) + "\n")
            count = 0
            for row in model._base_manager.order_by("pk").iterator(chunk_size=ROWS_AT_ONCE):
                writing.write(json.dumps([_plain(field, row) for field in fields], allow_nan=False) + "\n")
                count += 1
        counts[model._meta.label_lower] = count
    return counts


def read_rows(folder: Path, registry: Apps, counts: Mapping[str, int]) -> None:
    """Put the rows of every file into the empty tables of the database in use, and look whether all are there.

    Parameters
    ----------
    registry
        The models as they were when the rows were written.
    counts
        How many rows of each kind there must be.

    Raises
    ------
    Refusal
        If a kind of row has no table, or a count differs.
    """
    known = {model._meta.label_lower: model for model in kept_models(registry)}
    if strange := sorted(set(counts) - set(known)):
        raise Refusal("FILE", strange[0], "this version keeps no such rows", "Restore it with the version it names.")
    with transaction.atomic():
        for label in counts:
            _read_kind(folder / f"{label}.jsonl", known[label])
        connection.check_constraints()
        with connection.cursor() as cursor:
            for statement in connection.ops.sequence_reset_sql(no_style(), list(known.values())):
                cursor.execute(statement)
    for label, count in counts.items():
        found = known[label]._base_manager.count()
        if found != count:
            raise Refusal("FILE", f"{found} rows of {label}", f"there must be {count}", "Use another backup.")


def _read_kind(file: Path, model: type[models.Model]) -> None:
    with file.open(encoding="utf-8") as reading:
        columns = {field.attname: field for field in model._meta.concrete_fields}
        fields = [columns[name] for name in json.loads(reading.readline())]
        while lines := list(islice(reading, ROWS_AT_ONCE)):
            model._base_manager.bulk_create([_row(model, fields, json.loads(line)) for line in lines])


def _row(model: type[models.Model], fields: Sequence["models.Field[Any, Any]"], values: Sequence[Any]) -> models.Model:
    told = {
        field.attname: None if value is None else field.to_python(value)
        for field, value in zip(fields, values, strict=True)
    }
    return model(**told)


def _plain(field: "models.Field[Any, Any]", row: models.Model) -> object:
    """Return a value as JSON holds it; times, dates and the like as the text their column reads back."""
    value = field.value_from_object(row)
    return value if isinstance(value, bool | int | float | str | list | dict | None) else field.value_to_string(row)
