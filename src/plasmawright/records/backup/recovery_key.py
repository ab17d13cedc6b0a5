"""The recovery key: shown once, never kept. What is kept is its public half, which can seal a backup and open none."""

import os
import secrets
from hashlib import sha256
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.x25519 import X25519PrivateKey, X25519PublicKey
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

from plasmawright.errors import Refusal
from plasmawright.records.data_folder import data_folder, made

SEED_BYTES = 16
CHECK_BITS = 12
SIGNS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
"""Five bits each; the four letters that are taken for a figure or for each other are left out."""
MISREAD = str.maketrans("OIL", "011")
SIGN_COUNT = (SEED_BYTES * 8 + CHECK_BITS) // 5
GROUP = 4


def new_recovery_key() -> str:
    """Return a new key as a person writes it down: seven groups of four signs."""
    return _spelled(secrets.token_bytes(SEED_BYTES))


def private_half(typed: str) -> X25519PrivateKey:
    """Return the key that opens, from what a person typed: case, blanks and dashes do not matter.

    Raises
    ------
    Refusal
        If it is no recovery key; a slip in one sign is noticed here.
    """
    signs = "".join(typed.split()).replace("-", "").upper().translate(MISREAD)
    if len(signs) != SIGN_COUNT or set(signs) - set(SIGNS):
        limit = f"it has {SIGN_COUNT} signs, figures and letters"
        raise Refusal("recovery key", f"{len(signs)} signs", limit, "Copy it as it was shown.")
    number = 0
    for sign in signs:
        number = number * len(SIGNS) + SIGNS.index(sign)
    seed = (number >> CHECK_BITS).to_bytes(SEED_BYTES, "big")
    if _spelled(seed).replace("-", "") != signs:
        raise Refusal("recovery key", "not a key", "its last signs do not fit the others", "Look for a slip in it.")
    drawn = HKDF(algorithm=SHA256(), length=32, salt=None, info=b"plasmawright recovery key 1").derive(seed)
    return X25519PrivateKey.from_private_bytes(drawn)


def kept_public_half() -> X25519PublicKey | None:
    """Return what this installation seals its backups with, if a recovery key was set up."""
    try:
        return X25519PublicKey.from_public_bytes(bytes.fromhex(_file().read_text(encoding="ascii")))
    except FileNotFoundError:
        return None
    except ValueError as spoilt:
        limit = "it does not hold what it should"
        raise Refusal(_file().name, "not readable", limit, "Set up a new key with `backup --new-recovery-key`.") from (
            spoilt
        )


def keep_public_half(typed: str) -> X25519PublicKey:
    """Seal every backup from now on so that the key that was typed opens it."""
    public = private_half(typed).public_key()
    file = _file()
    beside = file.with_name(f".{file.name}-{os.getpid()}.part")
    beside.write_text(public.public_bytes_raw().hex(), encoding="ascii")
    beside.replace(file)
    return public


def _file() -> Path:
    return made(data_folder()) / "recovery_key.pub"


def _spelled(seed: bytes) -> str:
    check = int.from_bytes(sha256(b"plasmawright" + seed).digest()[:2], "big") >> (16 - CHECK_BITS)
    number = int.from_bytes(seed, "big") << CHECK_BITS | check
    signs = ""
    for _ in range(SIGN_COUNT):
        number, rest = divmod(number, len(SIGNS))
        signs = SIGNS[rest] + signs
    return "-".join(signs[start : start + GROUP] for start in range(0, SIGN_COUNT, GROUP))
