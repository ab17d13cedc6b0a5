"""Bytes to plain keys and values, or one refusal; nothing a file holds can end in anything else."""

import tomllib

from plasmawright.errors import Refusal, shown
from plasmawright.exchange.file import refuse_size

BYTES_MAX = 1_000_000
"""A preparation has about a thousand bytes; a thousand times that is not one."""

DEPTH_MAX = 8
VALUES_MAX = 5_000


def decode(data: bytes, name: str) -> dict[str, object]:
    """Decode a TOML file called ``name``.

    Raises
    ------
    Refusal
        If it is too long, not text, not TOML, nested too deeply or holds too many values.
    """
    refuse_size(name, len(data), bytes_max=BYTES_MAX)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        where = f"not text at byte {fault.start}"
        raise Refusal(name, where, "it must be text in UTF-8", "Save it as plain text in UTF-8.") from fault
    try:
        document: dict[str, object] = tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        what, _, where = str(fault).removesuffix(")").rpartition(" (at ")
        limit = "each line must be a [section] or key = value"
        raise Refusal(name, f"not TOML at {where}", limit, f"Mend that line: {shown(what).rstrip('.')}.") from fault
    except RecursionError as fault:
        raise _too_deep(name) from fault
    except ValueError as fault:  # a whole number of thousands of digits
        raise Refusal(name, "a number too long to read", "it must be a number", "Shorten that number.") from fault
    _refuse_bulk(document, name)
    return document


def _refuse_bulk(document: dict[str, object], name: str) -> None:
    """Walk the document level by level, so that no depth can exhaust the stack."""
    level: list[object] = [document]
    count = 0
    for _ in range(DEPTH_MAX + 1):
        inside: list[object] = []
        for value in level:
            if isinstance(value, dict):
                inside.extend(value.values())
            elif isinstance(value, list):
                inside.extend(value)
        count += len(inside)
        if count > VALUES_MAX:
            raise Refusal(name, f"{count} values long", f"it may hold {VALUES_MAX}", "Keep what one preparation needs.")
        level = inside
    if level:
        raise _too_deep(name)


def _too_deep(name: str) -> Refusal:
    return Refusal(name, "nested too deeply", f"it may have {DEPTH_MAX} levels", "Write sections as in the manual.")
