"""Plain keys and values to a TOML file; what :func:`decode` reads back is what was given."""

import json
from collections.abc import Mapping

BARE = frozenset("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-")


def encode(document: Mapping[str, object]) -> str:
    """Return sections of text, numbers and flags, and lists of such sections, as a file.

    Raises
    ------
    TypeError
        If it holds anything else.
    """
    return "\n".join(_section((), document)) + "\n"


def _section(path: tuple[str, ...], table: Mapping[str, object]) -> list[str]:
    """Return the lines of one table: its own values first, since what follows a header belongs to that header."""
    lines: list[str] = []
    inside: list[str] = []
    for name, value in table.items():
        here = (*path, name)
        if isinstance(value, Mapping):
            inside += [f"[{_dotted(here)}]", *_section(here, value)]
        elif isinstance(value, list):
            for row in value:
                inside += [f"[[{_dotted(here)}]]", *_section(here, row)]
        else:
            lines.append(f"{_key(name)} = {_value(value)}")
    return lines + inside


def _dotted(path: tuple[str, ...]) -> str:
    return ".".join(_key(name) for name in path)


def _key(name: str) -> str:
    return name if name and set(name) <= BARE else _text(name)


def _value(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, str):
        return _text(value)
    raise TypeError(f"no TOML for {type(value).__name__}")


def _text(text: str) -> str:
    """Return a basic string: JSON's escapes are TOML's, but for the one character JSON leaves bare."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
