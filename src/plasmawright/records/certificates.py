"""The clinic's own certificate authority: its root is kept, what it signs is renewed.

``certificates/root.pem`` holds the root and its key, ``certificates/leaf.pem`` the certificate and key that the pages
are served with. Each is one file, so that a certificate and its key are replaced together or not at all.
"""

import os
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from ipaddress import ip_address
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    load_pem_private_key,
)
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from plasmawright.records.data_folder import data_folder, made

ROOT_DAYS = 3650
LEAF_DAYS = 397
"""Browsers refuse more than 825 days even from an authority that a person installed, and some more than 398."""
RENEW_DAYS_BEFORE = 45
CLOCK_OFF = timedelta(days=1)
NAME_CHARACTERS_MAX = 64
"""The longest common name that a certificate may hold."""


@dataclass(frozen=True, kw_only=True)
class Root:
    """The authority as tablets install it; its key stays in the folder."""

    certificate: x509.Certificate

    @property
    def pem(self) -> bytes:
        """Return it as text between dashes."""
        return self.certificate.public_bytes(Encoding.PEM)

    @property
    def der(self) -> bytes:
        """Return it as bytes."""
        return self.certificate.public_bytes(Encoding.DER)

    @property
    def fingerprint(self) -> str:
        """Return the SHA-256 that a person compares: pairs of figures with colons between."""
        return self.certificate.fingerprint(SHA256()).hex(":").upper()


@dataclass(frozen=True, kw_only=True)
class Leaf:
    """What the pages are served with.

    Parameters
    ----------
    file
        Holds the key and the certificate.
    names
        The names and addresses it speaks for.
    """

    file: Path
    certificate: x509.Certificate
    names: frozenset[str]


def kept_root() -> Root | None:
    """Return the authority of this installation, if it has one."""
    pair = _pair_in(_folder() / "root.pem")
    return None if pair is None else Root(certificate=pair[1])


def kept_leaf() -> Leaf | None:
    """Return what the pages were last served with, if they were."""
    file = _folder() / "leaf.pem"
    pair = _pair_in(file)
    return None if pair is None else Leaf(file=file, certificate=pair[1], names=_names_in(pair[1]))


def leaf_for(names: Sequence[str], at: datetime) -> Leaf:
    """Return a certificate for ``names``; made anew when they changed, when it ends soon, or when its root did.

    Parameters
    ----------
    names
        Names and addresses as a person types them, the one most used first.
    """
    key, root = _root_pair(names[0], at)
    leaf, wanted = kept_leaf(), frozenset(map(_spelled, names))
    if leaf is not None and leaf.names == wanted and _lasts(leaf.certificate, at) and _signed_by(leaf, root):
        return leaf
    own_key = ec.generate_private_key(ec.SECP256R1())
    until = min(at + timedelta(days=LEAF_DAYS), root.not_valid_after_utc)
    made_leaf = (
        _unsigned(_named(names[0]), root.subject, own_key.public_key(), at, until)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.SubjectAlternativeName([_general_name(name) for name in names]), critical=False)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(_usage(signs_certificates=False), critical=True)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(key.public_key()), critical=False)
        .sign(key, SHA256())
    )
    file = _folder() / "leaf.pem"
    _keep(file, own_key, made_leaf)
    return Leaf(file=file, certificate=made_leaf, names=wanted)


def _root_pair(name: str, at: datetime) -> tuple[ec.EllipticCurvePrivateKey, x509.Certificate]:
    """Return the root and its key, made on first use and when it is about to end."""
    file = _folder() / "root.pem"
    pair = _pair_in(file)
    if pair is not None and _lasts(pair[1], at):
        return pair
    key = ec.generate_private_key(ec.SECP256R1())
    subject = _named(f"plasmawright, {name}, {at:%Y-%m-%d}")
    root = (
        _unsigned(subject, subject, key.public_key(), at, at + timedelta(days=ROOT_DAYS))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs_certificates=True), critical=True)
        .sign(key, SHA256())
    )
    _keep(file, key, root)
    return key, root


def _unsigned(
    subject: x509.Name, issuer: x509.Name, key: ec.EllipticCurvePublicKey, at: datetime, until: datetime
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key)
        .serial_number(x509.random_serial_number())
        .not_valid_before(at - CLOCK_OFF)  # a tablet's clock may be behind ours
        .not_valid_after(until)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key), critical=False)
    )


def _usage(*, signs_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs_certificates,
        key_cert_sign=signs_certificates,
        crl_sign=signs_certificates,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )


def _named(name: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name[:NAME_CHARACTERS_MAX])])


def _general_name(name: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ip_address(name))
    except ValueError:
        return x509.DNSName(name)


def _spelled(name: str) -> str:
    """Return a name as a certificate gives it back: an address in its shortest form."""
    return str(_general_name(name).value)


def _names_in(certificate: x509.Certificate) -> frozenset[str]:
    found = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return frozenset((*found.get_values_for_type(x509.DNSName), *map(str, found.get_values_for_type(x509.IPAddress))))


def _lasts(certificate: x509.Certificate, at: datetime) -> bool:
    return certificate.not_valid_after_utc - at > timedelta(days=RENEW_DAYS_BEFORE)


def _signed_by(leaf: Leaf, root: x509.Certificate) -> bool:
    key = x509.AuthorityKeyIdentifier.from_issuer_public_key(root.public_key())  # type: ignore[arg-type] # ours is EC
    return leaf.certificate.extensions.get_extension_for_class(x509.AuthorityKeyIdentifier).value == key


def _pair_in(file: Path) -> tuple[ec.EllipticCurvePrivateKey, x509.Certificate] | None:
    """Return the key and certificate in a file; nothing when there is none, or one that cannot be read."""
    try:
        text = file.read_bytes()
        key, certificate = load_pem_private_key(text, password=None), x509.load_pem_x509_certificate(text)
    except (FileNotFoundError, ValueError):
        return None
    return (key, certificate) if isinstance(key, ec.EllipticCurvePrivateKey) else None


def _keep(file: Path, key: ec.EllipticCurvePrivateKey, certificate: x509.Certificate) -> None:
    """Write both into one file, whole before it stands in its place, readable by its owner alone."""
    beside = file.with_name(f".{file.name}-{os.getpid()}.part")
    descriptor = os.open(beside, os.O_CREAT | os.O_TRUNC | os.O_WRONLY, 0o600)
    with os.fdopen(descriptor, "wb") as writing:
        writing.write(key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))
        writing.write(certificate.public_bytes(Encoding.PEM))
        writing.flush()
        os.fsync(writing.fileno())
    beside.replace(file)


def _folder() -> Path:
    return made(data_folder() / "certificates")
