"""The card of scanner commands as plain data: hands in gloves scan instead of touching."""

from dataclasses import dataclass

from plasmawright.documents.label_code import LabelCode, label_code
from plasmawright.documents.made import Printed
from plasmawright.practice.scanner_commands import ScannerCommand

MODULE_MM = 2.0
"""Large enough for a scanner at arm's length, through a film that is wiped."""


@dataclass(frozen=True, kw_only=True)
class CommandCode:
    """One command: its name in large type, what it does, and its code."""

    name: str
    does: str
    code: LabelCode


@dataclass(frozen=True, kw_only=True)
class CommandCard:
    """The card."""

    commands: tuple[CommandCode, ...]
    module_mm: float
    made_words: str
    made: Printed


COMMANDS = (
    (ScannerCommand.NEXT, "NEXT", "The step is done; show the next one."),
    (ScannerCommand.RED_SEEN, "RED SEEN", "A red thread came up: keep this tube apart."),
    (ScannerCommand.DIFFERS, "DIFFERS", "Something differs: noted now, told later."),
    (ScannerCommand.STOP, "STOP", "Something is wrong: show the ways on."),
)


def command_card(made: Printed) -> CommandCard:
    """Return the card with every command on it."""
    commands = tuple(
        CommandCode(name=name, does=does, code=label_code(command.value)) for command, name, does in COMMANDS
    )
    return CommandCard(commands=commands, module_mm=MODULE_MM, made_words=made.words, made=made)
