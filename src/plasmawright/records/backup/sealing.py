"""Sealing bytes to a public key in chunks, so that none can be read, changed, moved or left out unnoticed."""

from typing import BinaryIO

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.asymmetric.x25519 import X25519PrivateKey, X25519PublicKey
from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

from plasmawright.errors import Refusal

MAGIC = b"plasmawright backup 1\n"
PUBLIC_BYTES = 32
HEADER_BYTES = len(MAGIC) + 2 * PUBLIC_BYTES
CHUNK_BYTES = 65536
TAG_BYTES = 16
COUNTER_BYTES = 11
MORE, LAST = b"\x00", b"\x01"


class Sealer:
    """A stream to write to; what goes on into ``kept`` can be read with one private key only."""

    def __init__(self, kept: BinaryIO, recipient: X25519PublicKey) -> None:
        passing = X25519PrivateKey.generate()
        self.header = MAGIC + recipient.public_bytes_raw() + passing.public_key().public_bytes_raw()
        self.cipher = _cipher(passing.exchange(recipient), self.header)
        self.kept = kept
        self.waiting = bytearray()
        self.counter = 0
        kept.write(self.header)

    def write(self, given: bytes) -> int:
        """Take bytes; a chunk goes on once there is something to follow it."""
        self.waiting += given
        while len(self.waiting) > CHUNK_BYTES:
            self._seal(bytes(self.waiting[:CHUNK_BYTES]), MORE)
            del self.waiting[:CHUNK_BYTES]
        return len(given)

    def finish(self) -> None:
        """Seal what is left as the last chunk; without it a reader takes the file for one that was cut."""
        self._seal(bytes(self.waiting), LAST)
        self.waiting.clear()

    def _seal(self, chunk: bytes, place: bytes) -> None:
        self.kept.write(self.cipher.encrypt(_nonce(self.counter, place), chunk, self.header))
        self.counter += 1


class Opener:
    """A stream to read from what :class:`Sealer` wrote.

    Raises
    ------
    Refusal
        If it is no backup, was sealed with another key, or, while reading, was changed or cut.
    """

    def __init__(self, kept: BinaryIO, key: X25519PrivateKey, name: str) -> None:
        self.name = name
        self.kept = kept
        self.header = kept.read(HEADER_BYTES)
        if not self.header.startswith(MAGIC):
            limit = "it is no backup of this product"
            raise Refusal("FILE", name, limit, "Name a file that `plasmawright backup` wrote.")
        if len(self.header) < HEADER_BYTES:
            raise self._spoilt()
        recipient, passing = self.header[len(MAGIC) : -PUBLIC_BYTES], self.header[-PUBLIC_BYTES:]
        if recipient != key.public_key().public_bytes_raw():
            limit = "it was sealed with another recovery key"
            raise Refusal("FILE", name, limit, "Find the key that was shown when this backup was set up.")
        try:
            self.cipher = _cipher(key.exchange(X25519PublicKey.from_public_bytes(passing)), self.header)
        except ValueError as senseless:
            raise self._spoilt() from senseless
        self.ahead = kept.read(CHUNK_BYTES + TAG_BYTES)
        self.opened = bytearray()
        self.counter = 0
        self.over = False

    def read(self, size: int = -1) -> bytes:
        """Return the next ``size`` bytes, fewer at the end; all that are left for -1."""
        while not self.over and (size < 0 or len(self.opened) < size):
            self._open_chunk()
        taken = bytes(self.opened) if size < 0 else bytes(self.opened[:size])
        del self.opened[: len(taken)]
        return taken

    def finish(self) -> None:
        """Read on to the end, so that it is known to be the end."""
        while not self.over:
            self._open_chunk()

    def _open_chunk(self) -> None:
        chunk, self.ahead = self.ahead, self.kept.read(CHUNK_BYTES + TAG_BYTES)
        self.over = not self.ahead
        try:
            self.opened += self.cipher.decrypt(_nonce(self.counter, LAST if self.over else MORE), chunk, self.header)
        except (InvalidTag, ValueError) as spoilt:
            raise self._spoilt() from spoilt
        self.counter += 1

    def _spoilt(self) -> Refusal:
        limit = "it was changed, damaged or cut short after it was made"
        return Refusal("FILE", self.name, limit, "Use another copy, or an earlier backup.")


def _cipher(shared: bytes, header: bytes) -> ChaCha20Poly1305:
    return ChaCha20Poly1305(
        HKDF(algorithm=SHA256(), length=32, salt=header, info=b"plasmawright backup 1").derive(shared)
    )


def _nonce(counter: int, place: bytes) -> bytes:
    return counter.to_bytes(COUNTER_BYTES, "big") + place
