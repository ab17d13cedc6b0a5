"""Everything in one encrypted file, and back from it on a machine that has nothing but that file and the key."""

import os
import pty
import re
import subprocess
from collections.abc import Iterator
from contextlib import ExitStack
from datetime import UTC, datetime
from pathlib import Path

import psycopg
import pytest
from cryptography.hazmat.primitives.asymmetric.x25519 import X25519PrivateKey
from psycopg import sql
from tests.machine import COMMAND, Machine, machine_in

from plasmawright.errors import Refusal
from plasmawright.records.backup.recovery_key import new_recovery_key, private_half
from plasmawright.records.backup.restore import move_into_place
from plasmawright.records.backup.sealing import CHUNK_BYTES, HEADER_BYTES, Opener, Sealer

pytestmark = pytest.mark.slow
PICTURE = bytes(range(256)) * 300


class Machines:
    """Installations that know nothing of each other."""

    def __init__(self, stack: ExitStack, folder: Path) -> None:
        self.stack, self.folder = stack, folder

    def new(self, name: str) -> Machine:
        """Return one with nothing in it."""
        return self.stack.enter_context(machine_in(self.folder / name))


@pytest.fixture
def machines(tmp_path: Path) -> Iterator[Machines]:
    """Return a way to machines of their own."""
    with ExitStack() as stack:
        yield Machines(stack, tmp_path)


@pytest.fixture(scope="module")
def first_clinic(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Machine]:
    """Return a machine with a clinic, a person and an attachment, from which others are copied."""
    with machine_in(tmp_path_factory.mktemp("first")) as found:
        found.add_person("mo")
        picture = found.folder / "attachments/2026/tube.jpg"
        picture.parent.mkdir(parents=True)
        picture.write_bytes(PICTURE)
        yield found


@pytest.fixture
def clinic(first_clinic: Machine, tmp_path: Path) -> Iterator[Machine]:
    """Return a machine with what the first one holds."""
    with machine_in(tmp_path / "clinic", like=first_clinic) as found:
        yield found


@pytest.mark.database
def test_a_bare_machine_gets_everything_back_and_goes_on(clinic: Machine, machines: Machines, tmp_path: Path) -> None:
    file, key = str(tmp_path / "kept.backup"), str(tmp_path / "recovery.key")
    made = clinic.told("backup", file, "--recovery-key-file", key)
    assert (Path(key).stat().st_mode & 0o777, Path(file).stat().st_mode & 0o777) == (0o600, 0o600)
    assert b"North Clinic" not in Path(file).read_bytes()
    bare = machines.new("bare")
    back = bare.told("restore", file, "--recovery-key-file", key)
    assert (back["entries"], back["rows"], back["attachments"]) == (3, made["rows"], 1)
    assert back["head"] == made["head"] == bare.told("ledger", "verify")["head"]
    assert (bare.folder / "attachments/2026/tube.jpg").read_bytes() == PICTURE
    for name in ("secret_key", "ledger/key"):
        assert (bare.folder / name).read_bytes() == (clinic.folder / name).read_bytes()
    bare.add_person("ada")  # keys go on where they were, and the chain with them
    assert bare.told("ledger", "verify", "--head", made["head"])["entries"] == 5


@pytest.mark.database
def test_what_is_there_is_replaced_only_when_told_to_and_kept_aside(clinic: Machine, tmp_path: Path) -> None:
    file, key = str(tmp_path / "kept.backup"), str(tmp_path / "recovery.key")
    clinic.told("backup", file, "--recovery-key-file", key)
    clinic.add_person("ada")
    before = clinic.told("ledger", "verify")
    assert "--replace" in clinic.refused("restore", file, "--recovery-key-file", key)
    assert clinic.told("ledger", "verify") == before
    back = clinic.told("restore", file, "--recovery-key-file", key, "--replace")
    assert back["entries"] == clinic.told("ledger", "verify")["entries"] == 3
    assert (Path(back["kept_aside"]) / "ledger/key").exists()
    if "DATABASE_URL" in clinic.environment:
        with psycopg.connect(clinic.environment["DATABASE_URL"]) as server:
            (schema,) = server.execute(
                "SELECT nspname FROM pg_namespace WHERE nspname LIKE 'before_restore%'"
            ).fetchone() or ("",)
            query = sql.SQL("SELECT count(*) FROM {}.records_entry").format(sql.Identifier(schema))
            assert server.execute(query).fetchone() == (5,)
            with pytest.raises(psycopg.errors.IntegrityError, match="never"):  # triggers stand in the new schema too
                server.execute("DELETE FROM records_entry")


@pytest.mark.database
def test_a_backup_of_one_kind_of_database_restores_into_the_other_and_back(
    clinic: Machine, machines: Machines, tmp_path: Path
) -> None:
    if "DATABASE_URL" not in clinic.environment:
        pytest.skip("needs a server of the other kind")
    file, again, key = (str(tmp_path / name) for name in ("first.backup", "again.backup", "recovery.key"))
    made = clinic.told("backup", file, "--recovery-key-file", key)
    in_a_file = Machine(tmp_path / "file", {**clinic.environment, "PLASMAWRIGHT_DATA": str(tmp_path / "file")})
    del in_a_file.environment["DATABASE_URL"]
    assert in_a_file.told("restore", file, "--recovery-key-file", key)["head"] == made["head"]
    in_a_file.told("backup", again)
    back = machines.new("back").told("restore", again, "--recovery-key-file", key)
    assert (back["head"], back["rows"]) == (made["head"], made["rows"])


def test_a_folder_that_is_served_is_not_replaced_but_is_backed_up(clinic: Machine, tmp_path: Path) -> None:
    file, key = str(tmp_path / "kept.backup"), str(tmp_path / "recovery.key")
    clinic.open("serve", "--port", "0")
    clinic.told("backup", file, "--recovery-key-file", key)
    assert "served" in clinic.refused("restore", file, "--recovery-key-file", key, "--replace")


def test_a_flipped_byte_a_cut_file_and_a_wrong_key_each_refuse_and_leave_nothing(
    clinic: Machine, machines: Machines, tmp_path: Path
) -> None:
    file, key, spoilt = tmp_path / "kept.backup", tmp_path / "recovery.key", tmp_path / "spoilt.backup"
    clinic.told("backup", str(file), "--recovery-key-file", str(key))
    sealed, bare = file.read_bytes(), machines.new("bare")
    flipped = bytearray(sealed)
    flipped[-20] ^= 1
    for wrong in (bytes(flipped), sealed[: len(sealed) // 2], b""):
        spoilt.write_bytes(wrong)
        assert "spoilt.backup" in bare.refused("restore", str(spoilt), "--recovery-key-file", str(key))
    assert "another recovery key" in bare.refused("restore", str(file), given=f"{new_recovery_key()}\n")
    assert "signs" in bare.refused("restore", str(file), given="ABCD\n")
    assert [entry.name for entry in bare.folder.iterdir()] == ["in-use.lock"]
    assert bare.told("restore", str(file), "--recovery-key-file", str(key))["entries"] == 3


def test_a_backup_never_takes_the_place_of_another_file_and_needs_a_confirmed_key(
    clinic: Machine, tmp_path: Path
) -> None:
    (tmp_path / "mine").write_text("mine", encoding="utf-8")
    assert "already" in clinic.refused("backup", str(tmp_path / "mine"))
    assert "--recovery-key-file" in clinic.refused("backup", str(tmp_path / "new.backup"))
    assert not (tmp_path / "new.backup").exists()


def test_the_key_is_shown_once_typed_back_and_asked_for_no_more(clinic: Machine, tmp_path: Path) -> None:
    leader, follower = pty.openpty()
    with subprocess.Popen(
        [COMMAND, "backup", str(tmp_path / "first.backup")], env=clinic.environment,
        stdin=follower, stdout=follower, stderr=follower,
    ) as asking:  # fmt: skip
        os.close(follower)
        seen = ""
        while "Type it back" not in seen:
            seen += os.read(leader, 1000).decode()
        (key,) = re.findall(r"(?:[0-9A-Z]{4}-){6}[0-9A-Z]{4}", seen)
        os.write(leader, f"{key.lower().replace('-', ' ')}\n".encode())
        assert asking.wait(timeout=60) == 0
    os.close(leader)
    clinic.told("backup", str(tmp_path / "second.backup"))
    private_half(key)
    assert key not in "".join(
        file.read_text(errors="replace")
        for file in clinic.folder.rglob("*")
        if file.is_file() and file.suffix != ".nbc"
    )


@pytest.mark.parametrize("size", [0, 1, CHUNK_BYTES, CHUNK_BYTES + 1, 3 * CHUNK_BYTES])
def test_what_was_sealed_opens_whole_and_no_chunk_can_be_left_out_or_moved(tmp_path: Path, size: int) -> None:
    key, text = X25519PrivateKey.generate(), os.urandom(size)
    file = tmp_path / "sealed"
    with file.open("wb") as writing:
        sealer = Sealer(writing, key.public_key())
        sealer.write(text)
        sealer.finish()

    def opened() -> bytes:
        with file.open("rb") as reading:
            return Opener(reading, key, "sealed").read()

    assert opened() == text
    sealed = file.read_bytes()
    step = CHUNK_BYTES + 16
    chunks = [sealed[start : start + step] for start in range(HEADER_BYTES, len(sealed), step)]
    for wrong in (chunks[:-1], [*chunks, b"more"], [chunks[-1], *chunks[:-1]] if len(chunks) > 1 else []):
        file.write_bytes(sealed[:HEADER_BYTES] + b"".join(wrong))
        with pytest.raises(Refusal, match="changed, damaged or cut"):
            opened()


def test_one_wrong_sign_in_a_recovery_key_is_noticed() -> None:
    key = new_recovery_key()
    wrong = ("1" if key[0] == "0" else "0") + key[1:]
    with pytest.raises(Refusal, match="fit"):
        private_half(wrong)


def test_a_move_that_fails_halfway_puts_everything_back(tmp_path: Path) -> None:
    proven, folder = tmp_path / "data/.restoring-1/files", tmp_path / "data"
    proven.mkdir(parents=True)
    (proven / "new").write_text("new", encoding="utf-8")
    (proven / "other").mkdir()
    (folder / "old").write_text("old", encoding="utf-8")
    at = datetime(2026, 11, 25, tzinfo=UTC)
    (folder / "numba").mkdir()  # stays where it is
    (proven / "numba").mkdir()
    (folder / "numba/kernel").write_text("kept", encoding="utf-8")  # so that the proven one cannot take its place
    with pytest.raises(OSError, match="not empty"):
        move_into_place(proven, folder, at)
    assert (folder / "old").read_text(encoding="utf-8") == "old"
    assert sorted(entry.name for entry in proven.iterdir()) == ["new", "numba", "other"]
