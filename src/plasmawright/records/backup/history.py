"""The shape of the tables a backup was made with, and how an empty database is brought to it."""

from collections.abc import Mapping, Sequence

from django.apps.registry import Apps
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from plasmawright.errors import Refusal

Applied = Mapping[str, Sequence[str]]
"""For each part the names of the migrations that were applied."""


def applied_migrations() -> dict[str, list[str]]:
    """Return what was applied to the database in use."""
    found: dict[str, list[str]] = {}
    for part, name in sorted(MigrationExecutor(connection).loader.applied_migrations):
        found.setdefault(part, []).append(name)
    return found


def build_as_it_was(applied: Applied) -> Apps:
    """Bring an empty database to the shape told and return the models as they were then.

    Raises
    ------
    Refusal
        If the shape is one that only a later version knows.
    """
    executor = MigrationExecutor(connection)
    wanted = {(part, name) for part, names in applied.items() for name in names}
    loader = executor.loader
    if strange := sorted(wanted - set(loader.disk_migrations or ())):
        limit = "this version does not know that change of the tables"
        raise Refusal("FILE", f"{strange[0][0]} {strange[0][1]}", limit, "Restore it with a newer version.")
    there = loader.graph.node_map
    last = [
        node for node in sorted(wanted & set(there)) if not any(child.key in wanted for child in there[node].children)
    ]
    executor.migrate(last)
    return executor.loader.project_state(last).apps
