"""`plasmawright serve`: the clinic's own pages on the clinic's own records."""

import json
import os
from typing import Annotated

import typer

from plasmawright.cli.serving import (
    HostOption,
    JsonOption,
    free_port,
    leave_on_termination,
    prepare_records,
    serve_pages,
    url_of,
)
from plasmawright.records.data_folder import data_folder, made

OwnPortOption = Annotated[int, typer.Option("--port", min=0, max=65535, help="The port; 0 takes a free one.")]
OWN_PORT = 8460


def command(*, host: HostOption = "127.0.0.1", port: OwnPortOption = OWN_PORT, as_json: JsonOption = False) -> None:
    """Open this clinic's pages; Ctrl-C closes them."""
    leave_on_termination()
    folder = made(data_folder())
    chosen = free_port(host, port)
    prepare_records()
    from plasmawright.records.models import Person

    url = url_of(host, chosen)

    def announce() -> None:
        if as_json:
            typer.echo(json.dumps({"url": url, "data": str(folder), "pid": os.getpid()}))
            return
        typer.echo(f"Open {url}  (data in {folder}; Ctrl-C closes it)")
        if not Person.objects.exists():
            typer.echo("Nobody can sign in yet. Add the first person with `plasmawright add-person`.")

    serve_pages(host=host, port=chosen, announce=announce)
