"""The clinic's own authority: kept, trusted once, and what it signs renewed."""

import socket
import ssl
import stat
import subprocess
from datetime import UTC, datetime, timedelta
from pathlib import Path
from urllib.error import HTTPError
from urllib.request import urlopen

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.hashes import SHA256
from tests.machine import machine_in

from plasmawright.records.certificates import kept_root, leaf_for
from plasmawright.records.own_addresses import is_loopback, own_names

AT = datetime(2026, 11, 25, 9, tzinfo=UTC)
NAMES = ("192.0.2.10", "bench", "bench.local", "2001:db8::10", "127.0.0.1")


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Name a data folder of its own."""
    monkeypatch.setenv("PLASMAWRIGHT_DATA", str(tmp_path / "data"))
    return tmp_path / "data"


def test_an_independent_verifier_follows_the_chain_and_finds_every_name(folder: Path, tmp_path: Path) -> None:
    leaf = leaf_for(NAMES, AT)
    root = kept_root()
    assert root is not None
    (tmp_path / "root.crt").write_bytes(root.pem)
    for checked in (["-verify_ip", "192.0.2.10"], ["-verify_ip", "2001:db8::10"], ["-verify_hostname", "bench.local"]):
        ran = subprocess.run(
            ["openssl", "verify", "-CAfile", str(tmp_path / "root.crt"), "-purpose", "sslserver", "-x509_strict",
             "-attime", str(int(AT.timestamp())), *checked, str(leaf.file)],
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        assert ran.returncode == 0, ran.stdout + ran.stderr
    assert leaf.names == set(NAMES)
    assert leaf.certificate.not_valid_after_utc - leaf.certificate.not_valid_before_utc < timedelta(days=825)
    assert root.certificate.extensions.get_extension_for_class(x509.BasicConstraints).value.path_length == 0
    assert {stat.S_IMODE(file.stat().st_mode) for file in (folder / "certificates").iterdir()} == {0o600}


def test_the_root_is_kept_and_a_leaf_is_made_anew_for_another_address_or_near_its_end() -> None:
    first = leaf_for(NAMES, AT)
    root = kept_root()
    assert leaf_for(NAMES, AT + timedelta(days=300)).certificate == first.certificate
    moved = leaf_for(("192.0.2.11", *NAMES[1:]), AT)
    assert "192.0.2.11" in moved.names
    late = first.certificate.not_valid_after_utc - timedelta(days=30)
    renewed = leaf_for(("192.0.2.11", *NAMES[1:]), late)
    assert renewed.certificate.not_valid_after_utc > late + timedelta(days=300)
    assert kept_root() == root  # tablets trust it still


def test_a_root_that_ends_is_made_anew_and_signs_a_new_leaf() -> None:
    leaf_for(NAMES, AT)
    before = kept_root()
    assert before is not None
    late = before.certificate.not_valid_after_utc - timedelta(days=10)
    leaf = leaf_for(NAMES, late)
    after = kept_root()
    assert after is not None
    assert after.fingerprint != before.fingerprint
    leaf.certificate.verify_directly_issued_by(after.certificate)


def test_names_of_a_machine_hold_its_addresses_and_loopback() -> None:
    assert own_names("192.0.2.10") == ("192.0.2.10", "127.0.0.1", "::1", "localhost")
    every = own_names("0.0.0.0")  # noqa: S104 - the names are asked for, nothing listens
    assert {"127.0.0.1", "localhost"} < set(every)
    assert not is_loopback(every[0])
    assert (is_loopback("localhost"), is_loopback("::1"), is_loopback("192.0.2.10")) == (True, True, False)


@pytest.mark.slow
def test_a_tablet_that_trusts_the_root_opens_the_pages_over_https(tmp_path: Path) -> None:
    with machine_in(tmp_path / "served") as served:
        with socket.create_server(("127.0.0.1", 0)) as free:
            port = free.getsockname()[1]
        _, told = served.open("serve", "--host", "0.0.0.0", "--port", "0", "--install-port", str(port))  # noqa: S104
        plain = f"http://127.0.0.1:{port}"
        assert told["url"].startswith("https://127.0.0.1:")
        with urlopen(f"{plain}/install/", timeout=20) as page:
            steps = page.read().decode()
        with urlopen(f"{plain}/install/plasmawright-root.crt", timeout=20) as given:
            assert given.headers["Content-Type"] == "application/x-x509-ca-cert"
            root = given.read().decode()
        fingerprint = x509.load_pem_x509_certificate(root.encode()).fingerprint(SHA256()).hex(":").upper()
        assert fingerprint in steps
        with pytest.raises(HTTPError, match="404"):
            urlopen(f"{plain}/sign-in/", timeout=20)  # no password ever goes in plain
        trusting = ssl.create_default_context(cadata=root)
        with urlopen(f"{told['url']}sign-in/", timeout=60, context=trusting) as page:
            cookies = page.headers.get_all("Set-Cookie")
            assert page.headers["Strict-Transport-Security"] is None
        assert cookies
        assert all("Secure" in cookie for cookie in cookies)
        with urlopen(f"{told['url']}install/", timeout=20, context=trusting) as page:
            assert fingerprint in page.read().decode()  # to anybody: nobody is signed in
