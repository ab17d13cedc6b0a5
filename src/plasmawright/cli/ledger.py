"""`plasmawright ledger verify`: whether every record's history is whole."""

import json
import re
from enum import StrEnum
from typing import Annotated

import typer

from plasmawright.cli.serving import JsonOption, prepare_records
from plasmawright.errors import Refusal
from plasmawright.records.data_folder import data_folder, made

BROKEN = 3
IN_WORDS = {
    "edited": "what stands there is not what was written",
    "missing": "a line that stood there is gone",
    "reordered": "a line that stood elsewhere stands there",
    "truncated": "lines from there on were cut off",
    "state": "a record is not what its history says of it",
}


class Action(StrEnum):
    """What can be done with the ledger."""

    VERIFY = "verify"


ActionArgument = Annotated[Action, typer.Argument(help="`verify` looks whether every record's history is whole.")]
HeadOption = Annotated[
    str, typer.Option("--head", metavar="DIGEST", help="A head noted earlier, which must still be met.")
]


def command(*, action: ActionArgument, head: HeadOption = "", as_json: JsonOption = False) -> None:
    """Walk the history of every record; leave with 3 when it is broken."""
    noted = [digest.strip().lower() for digest in head.split(",") if digest.strip()]
    for digest in noted:
        if not re.fullmatch(r"[0-9a-f]{64}", digest):
            raise Refusal("--head", digest, "it must be 64 figures from 0 to f", "Copy it as `ledger verify` told it.")
    made(data_folder())
    prepare_records()
    from plasmawright.records.selectors.ledger import Verdict, ledger_verdict

    verdict: Verdict = ledger_verdict(noted)
    typer.echo(json.dumps(verdict.as_document()) if as_json else _in_words(verdict.as_document()))
    if verdict.broken is not None:
        raise typer.Exit(BROKEN)


def _in_words(found: dict[str, object]) -> str:
    broken = found["broken"]
    if isinstance(broken, dict):
        clinic = broken["clinic"] or "all clinics together"
        return f"Broken in {clinic}, line {broken['seq']}: {IN_WORDS[broken['kind']]} ({broken['kind']})."
    return f"Whole: {found['entries']} lines. Head {found['head'] or 'none yet'}."
