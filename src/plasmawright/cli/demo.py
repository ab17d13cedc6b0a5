"""`plasmawright demo`: an invented clinic in a folder that is thrown away."""

import json
import os
import shutil
import tempfile
from datetime import UTC, datetime
from pathlib import Path

import typer

from plasmawright.cli.data_option import DataOption
from plasmawright.cli.serving import (
    HostOption,
    JsonOption,
    PortOption,
    free_port,
    leave_on_termination,
    prepare_records,
    serve_pages,
    url_of,
)
from plasmawright.errors import Refusal
from plasmawright.records.data_folder import data_folder, made, use_data_folder


def command(
    *, host: HostOption = "127.0.0.1", port: PortOption = 0, as_json: JsonOption = False, data: DataOption = None
) -> None:
    """Open an invented clinic to look at; Ctrl-C ends it and removes its folder."""
    leave_on_termination()
    if data is not None and data.exists() and not (data.is_dir() and not any(data.iterdir())):
        raise Refusal(
            "--data", data, "the demo needs a folder that is empty", "Name an empty one, or leave --data out."
        )
    chosen = free_port(host, port)
    own = data_folder()
    folder = made(data) if data is not None else Path(tempfile.mkdtemp(prefix="plasmawright-demo-"))
    try:
        use_data_folder(folder)
        _open(host=host, port=chosen, folder=folder, as_json=as_json)
    finally:
        use_data_folder(own)
        if data is None:
            shutil.rmtree(folder, ignore_errors=True)


def _open(*, host: str, port: int, folder: Path, as_json: bool) -> None:
    """Fill the records and serve the pages."""
    prepare_records()
    from plasmawright.demo.clinic import SignIn, invent_clinic
    from plasmawright.records.models import Clinic

    if Clinic.objects.exists():
        limit = "the demo needs a database without a clinic"
        raise Refusal("DATABASE_URL", "a database in use", limit, "Name an empty database, or unset DATABASE_URL.")
    sign_ins: list[SignIn] = invent_clinic(datetime.now(UTC))
    url = url_of(host, port)

    def announce() -> None:
        if as_json:
            people = [sign_in.as_document() for sign_in in sign_ins]
            document = {"url": url, "data": str(folder.absolute()), "pid": os.getpid(), "people": people}
            typer.echo(json.dumps(document))
            return
        typer.echo(f"An invented clinic is open at {url}\n")
        for sign_in in sign_ins:
            typer.echo(f"  {sign_in.name:<6} {sign_in.role:<10} password {sign_in.password}")
        typer.echo("\nNobody in it exists. Ctrl-C closes it.")

    serve_pages(host=host, port=port, announce=announce)
