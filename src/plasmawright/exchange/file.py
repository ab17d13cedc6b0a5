"""The bytes of a file on disk; everything that may be wrong with a path is said before its bytes are read."""

import stat
from pathlib import Path

from plasmawright.errors import Refusal, shown


def read_bytes(path: Path, *, bytes_max: int) -> bytes:
    """Read the bytes of an ordinary file.

    Raises
    ------
    Refusal
        If there is no such file, it is a folder or another thing than a file, it is too long, or it cannot be read.
    """
    name = shown(path.name or path)
    try:
        what = path.stat()
        if stat.S_ISDIR(what.st_mode):
            raise Refusal(name, "a folder", "it must be a file", "Give the file inside it.")
        if not stat.S_ISREG(what.st_mode):
            raise Refusal(name, "not an ordinary file", "it must be a file", "Save it as a file first.")
        refuse_size(name, what.st_size, bytes_max=bytes_max)
        return path.read_bytes()
    except FileNotFoundError as fault:
        where = shown(path.parent.absolute())
        raise Refusal(name, "not there", "it must be a file", f"Look for it in {where}.") from fault
    except PermissionError as fault:
        raise Refusal(name, "closed to you", "it must be readable", "Ask its owner for permission.") from fault
    except (OSError, ValueError) as fault:  # a name too long or with a zero byte, a disk that fails
        raise Refusal(name, f"unreadable ({fault})", "it must be a readable file", "Check the name.") from fault


def refuse_size(name: str, size_bytes: int, *, bytes_max: int) -> None:
    """Refuse a file of more than ``bytes_max``; callers ask before they read."""
    if size_bytes > bytes_max:
        size = f"{size_bytes / 1e6:.3g} MB long"
        raise Refusal(name, size, f"it must be at most {bytes_max / 1e6:g} MB", "Give a file of the kind asked for.")
