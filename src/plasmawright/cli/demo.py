"""`plasmawright demo`: an invented clinic in a folder that is thrown away, or kept and opened again."""

import json
import os
import shutil
import tempfile
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path

import typer

from plasmawright.cli.data_option import DataOption
from plasmawright.cli.demo_folder import KeptDemo, keep_demo, kept_demo, refuse_unless_empty
from plasmawright.cli.serving import (
    HostOption,
    HttpsOption,
    InstallPortOption,
    JsonOption,
    Listening,
    PortOption,
    leave_on_termination,
    listening,
    port_again,
    prepare_records,
    serve_pages,
    words_for_tablets,
)
from plasmawright.errors import Refusal
from plasmawright.records.data_folder import data_folder, made, use_data_folder
from plasmawright.records.folder_lock import folder_in_use


def command(
    *,
    host: HostOption = "127.0.0.1",
    port: PortOption = 0,
    https: HttpsOption = None,
    install_port: InstallPortOption = 0,
    as_json: JsonOption = False,
    data: DataOption = None,
) -> None:
    """Open an invented clinic to look at; Ctrl-C ends it and removes its folder, unless --data names one to keep."""
    leave_on_termination()
    kept = kept_demo(data) if data is not None else None
    if data is not None and kept is None:
        refuse_unless_empty(data)
    at = listening(
        host=host, port=port_again(host, port, kept.port if kept else 0), https=https, install_port=install_port
    )
    own = data_folder()
    folder = made(data) if data is not None else Path(tempfile.mkdtemp(prefix="plasmawright-demo-"))
    try:
        use_data_folder(folder)
        with folder_in_use(folder):
            people, tablet_code = _invented(folder) if kept is None else (kept.people, kept.tablet_code)
            demo = KeptDemo(people=people, tablet_code=tablet_code, port=at.port)
            keep_demo(folder, demo)
            _open(at=at, folder=folder, demo=demo, as_json=as_json)
    finally:
        use_data_folder(own)
        if data is None:
            shutil.rmtree(folder, ignore_errors=True)


def _invented(folder: Path) -> tuple[Sequence[Mapping[str, str]], str]:
    """Fill the records of an empty folder; return the sign-ins as they are printed, and the tablet's code."""
    keep_demo(folder, None)
    prepare_records()
    from plasmawright.demo.clinic import invent_clinic
    from plasmawright.records.models import Clinic

    if Clinic.objects.exists():
        limit = "the demo needs a database without a clinic"
        raise Refusal("DATABASE_URL", "a database in use", limit, "Name an empty database, or unset DATABASE_URL.")
    invented = invent_clinic(datetime.now(UTC))
    return [sign_in.as_document() for sign_in in invented.sign_ins], invented.tablet_code


def _open(*, at: Listening, folder: Path, demo: KeptDemo, as_json: bool) -> None:
    """Serve the pages of a folder that is filled."""
    prepare_records()

    def announce() -> None:
        if as_json:
            document = {
                "url": at.url, "data": str(folder.absolute()), "pid": os.getpid(), "people": demo.people,
                "tablet_code": demo.tablet_code,
            }  # fmt: skip
            typer.echo(json.dumps(document))
            return
        typer.echo(f"An invented clinic is open at {at.url}\n")
        for person in demo.people:
            pin = f"  PIN {person['pin']}" if person["pin"] else ""
            typer.echo(f"  {person['name']:<6} {person['role']:<10} password {person['password']}{pin}")
        typer.echo(f"\nTo sign by PIN, make your browser the bench's tablet: {at.url}tablet/#{demo.tablet_code}")
        if words := words_for_tablets(at):
            typer.echo(f"\n{words}")
        typer.echo(f"\nNobody in it exists. Ctrl-C closes it. If it is killed: plasmawright demo --data {folder}")

    serve_pages(at=at, folder=folder, announce=announce)
