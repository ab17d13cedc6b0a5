"""`plasmawright serve`: the clinic's own pages on the clinic's own records."""

import json
import os
from typing import Annotated

import typer

from plasmawright.cli.serving import (
    HostOption,
    HttpsOption,
    InstallPortOption,
    JsonOption,
    leave_on_termination,
    listening,
    prepare_records,
    serve_pages,
    words_for_tablets,
)
from plasmawright.records.data_folder import data_folder, made
from plasmawright.records.folder_lock import folder_in_use

OwnPortOption = Annotated[int, typer.Option("--port", min=0, max=65535, help="The port; 0 takes a free one.")]
OWN_PORT = 8460
OWN_INSTALL_PORT = 8461


def command(
    *,
    host: HostOption = "127.0.0.1",
    port: OwnPortOption = OWN_PORT,
    https: HttpsOption = None,
    install_port: InstallPortOption = OWN_INSTALL_PORT,
    as_json: JsonOption = False,
) -> None:
    """Open this clinic's pages and keep their background work going; Ctrl-C ends both."""
    leave_on_termination()
    folder = made(data_folder())
    at = listening(host=host, port=port, https=https, install_port=install_port)
    with folder_in_use(folder):
        prepare_records()
        from plasmawright.records.models import Person

        def announce() -> None:
            if as_json:
                typer.echo(json.dumps({"url": at.url, "data": str(folder), "pid": os.getpid()}))
                return
            typer.echo(f"Open {at.url}  (data in {folder}; Ctrl-C closes it)")
            if words := words_for_tablets(at):
                typer.echo(words)
            if not Person.objects.exists():
                typer.echo("Nobody can sign in yet. Add the first person with `plasmawright add-person`.")

        serve_pages(at=at, folder=folder, announce=announce)
