"""The front door of the command line: every error becomes an exit code and at most three lines.

Exit 0 is success, 2 a refusal that says what lifts it, 1 a fault of ours whose details go to a file.
"""

import sys
import traceback
from collections.abc import Callable
from datetime import UTC, datetime
from importlib import import_module
from pathlib import Path
from typing import Any

import typer
from typer.exceptions import TyperException

from plasmawright.cli.data_option import with_data_option
from plasmawright.errors import PlasmawrightError
from plasmawright.records.data_folder import made, use_data_folder

REFUSED = 2
FAULT = 1
LINES_MAX = 3
COMMANDS = {
    "simulate": "plasmawright.cli.simulate",
    "plan": "plasmawright.cli.plan",
    "map": "plasmawright.cli.map",
    "balance": "plasmawright.cli.balance",
    "check-model": "plasmawright.cli.check_model",
    "ledger": "plasmawright.cli.ledger",
    "demo": "plasmawright.cli.demo",
    "serve": "plasmawright.cli.serve",
    "backup": "plasmawright.cli.backup",
    "restore": "plasmawright.cli.restore",
    "add-person": "plasmawright.cli.add_person",
}
"""Each command's name and the module whose ``command`` it is. The module imports nothing heavy at its top."""


def application() -> typer.Typer:
    """Return the command line with every command of :data:`COMMANDS`."""
    app = typer.Typer(
        name="plasmawright",
        help="Plan, guide and record the preparation of platelet-rich plasma at a small clinic's bench.",
        add_completion=False,
        no_args_is_help=True,
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
    )
    app.callback()(_nothing_yet)
    for name, module in COMMANDS.items():
        command: Callable[..., None] = import_module(module).command
        app.command(name)(with_data_option(command))
    return app


def _nothing_yet() -> None:
    """Plan, guide and record the preparation of platelet-rich plasma at a small clinic's bench."""


def run() -> None:
    """Run the command line and leave with its exit code."""
    sys.exit(code_of(sys.argv[1:]))


def code_of(arguments: list[str]) -> int:
    """Run the command line on ``arguments`` and return the exit code."""
    use_data_folder(None)
    try:
        left: Any = typer.main.get_command(application()).main(  # Any: typer returns what the command returned
            args=arguments, prog_name="plasmawright", standalone_mode=False
        )
    except PlasmawrightError as refusal:
        return _refuse(str(refusal).splitlines())
    except TyperException as misuse:
        return _refuse(_words_of(misuse, arguments))
    except typer.Abort:
        return _refuse(["Stopped before anything was done."])
    except Exception:  # noqa: BLE001 - the one place where nothing may pass
        return _own_up()
    return left if isinstance(left, int) else 0


def _refuse(lines: list[str]) -> int:
    """Say no on standard error in at most three lines."""
    shown = lines if len(lines) <= LINES_MAX else [*lines[: LINES_MAX - 1], f"… and {len(lines) - LINES_MAX + 1} more."]
    print("\n".join(shown), file=sys.stderr)
    return REFUSED


def _words_of(misuse: TyperException, arguments: list[str]) -> list[str]:
    """Return what was wrong with the command line, and where to look."""
    asked = next((name for name in arguments[:1] if name in COMMANDS), None)
    where = f"plasmawright {asked} --help" if asked else "plasmawright --help"
    return [" ".join(misuse.format_message().split()), f"Run `{where}` to see what it takes."]


def _own_up() -> int:
    """Say on one line that the fault is ours, and keep the traceback in the data folder."""
    log = Path("faults.log")
    try:
        log = made(use_data_folder(None)) / log
        with log.open("a", encoding="utf-8") as writing:
            writing.write(f"{datetime.now(UTC).isoformat()}\n{traceback.format_exc()}\n")
        where = f"What happened stands in {log}."
    except OSError as unwritable:
        where = f"It could not be kept in {log} ({unwritable.strerror})."
    print(f"This is a fault of ours, not of your file. {where}", file=sys.stderr)
    return FAULT
