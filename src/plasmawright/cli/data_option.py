"""The option every command takes: ``--data DIR``."""

import inspect
from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import Annotated

import typer

from plasmawright.records.data_folder import use_data_folder

DataOption = Annotated[
    Path | None, typer.Option("--data", metavar="DIR", help="The data folder; else PLASMAWRIGHT_DATA, else your own.")
]


def with_data_option(command: Callable[..., None]) -> Callable[..., None]:
    """Return ``command`` with ``--data`` added, unless it names the option itself."""
    signature = inspect.signature(command, eval_str=True)
    if "data" in signature.parameters:
        return command

    @wraps(command)
    def within_folder(*, data: Path | None = None, **given: object) -> None:
        use_data_folder(data)
        command(**given)

    added = inspect.Parameter("data", inspect.Parameter.KEYWORD_ONLY, default=None, annotation=DataOption)
    kept = [p.replace(kind=inspect.Parameter.KEYWORD_ONLY) for p in signature.parameters.values()]
    within_folder.__signature__ = signature.replace(parameters=[*kept, added])  # type: ignore[attr-defined] # inspect reads it
    return within_folder
