"""`plasmawright add-person`: someone who may sign in."""

import sys
from datetime import UTC, datetime
from typing import Annotated

import typer

from plasmawright.cli.serving import prepare_records
from plasmawright.errors import Refusal
from plasmawright.records.data_folder import data_folder, made


def command(
    *,
    username: Annotated[str, typer.Argument(help="A short name to sign in with.")],
    clinic: Annotated[str, typer.Option("--clinic", help="The clinic's name; opened when it is new.")],
    role: Annotated[str, typer.Option("--role", help="preparer, clinician, assistant or manager.")] = "manager",
    display_name: Annotated[str, typer.Option("--display-name", help="The name colleagues know.")] = "",
) -> None:
    """Add someone who may sign in, with a password asked for here."""
    made(data_folder())
    prepare_records()
    from django.db import transaction

    from plasmawright.records.models import Role
    from plasmawright.records.selectors.people import clinic_named
    from plasmawright.records.services.people import add_person, open_clinic

    if role not in Role.values:
        raise Refusal("--role", role, f"it must be one of {', '.join(Role.values)}", "Choose one of them.")
    password = _password()
    at = datetime.now(UTC)
    with transaction.atomic():  # a refused person leaves no empty clinic behind
        kept = clinic_named(clinic) or open_clinic(name=clinic, by="command line", at=at)
        add_person(
            clinic=kept,
            username=username,
            display_name=display_name or username,
            role=Role(role),
            password=password,
            by="command line",
            at=at,
        )
    typer.echo(f"{username} may now sign in to {kept.name} as {role}.")


def _password() -> str:
    """Return the password asked for twice at the screen, or the first line of what was piped in."""
    if sys.stdin.isatty():
        return str(typer.prompt("Password", hide_input=True, confirmation_prompt=True, err=True))
    return sys.stdin.readline().rstrip("\n")
