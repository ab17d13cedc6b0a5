"""What a scanner types when it reads the command card: one word for each thing hands ask for at the bench."""

import re
from enum import StrEnum

NOT_A_LETTER = re.compile(r"[^A-Z]")


class ScannerCommand(StrEnum):
    """A command, by the text its code on the card holds."""

    NEXT = "PW:NEXT"
    RED_SEEN = "PW:REDSEEN"
    DIFFERS = "PW:DIFFERS"
    STOP = "PW:STOP"


def command_of(scanned: str) -> ScannerCommand | None:
    """Return the command that was scanned, or nothing: a scanner set to another keyboard may lose the colon."""
    letters = _letters(scanned)
    return next((command for command in ScannerCommand if _letters(command) == letters), None)


def _letters(text: str) -> str:
    return NOT_A_LETTER.sub("", text.upper())
