"""Every way a command may end, and what it says then."""

from pathlib import Path

import pytest

from plasmawright.cli import main
from plasmawright.errors import OutOfRange, Refusal, Refusals


@pytest.fixture
def ending(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> "Ending":
    """Return a command line with one command, which ends as told."""
    monkeypatch.setenv("PLASMAWRIGHT_DATA", str(tmp_path))
    return Ending(monkeypatch)


class Ending:
    """Runs the front door around a command that raises what it is given."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.monkeypatch = monkeypatch

    def with_error(self, error: BaseException | None) -> int:
        """Run the command and return the exit code."""

        def command() -> None:
            if error is not None:
                raise error

        module = type("module", (), {"command": staticmethod(command)})
        self.monkeypatch.setattr(main, "COMMANDS", {"end": "somewhere"})
        self.monkeypatch.setattr(main, "import_module", lambda _name: module)
        return main.code_of(["end"])


def test_success_is_nought(ending: Ending) -> None:
    assert ending.with_error(None) == 0


def test_a_refusal_is_two_and_one_line_on_standard_error(ending: Ending, capsys: pytest.CaptureFixture[str]) -> None:
    assert ending.with_error(OutOfRange("blood.hematocrit_frac", 42, 0.05, 0.7, "Divide by 100.")) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err == "blood.hematocrit_frac is 42; it must lie between 0.05 and 0.7. Divide by 100.\n"


def test_many_refusals_are_told_in_three_lines(ending: Ending, capsys: pytest.CaptureFixture[str]) -> None:
    found = [Refusal(f"field{number}", 1, "it must be 2", "Write 2.") for number in range(9)]
    assert ending.with_error(Refusals(found)) == 2
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) == 3
    assert lines[-1] == "… and 7 more."  # two are shown


def test_a_fault_is_one_line_of_ours_and_the_rest_is_kept(
    ending: Ending, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    assert ending.with_error(ZeroDivisionError("division by zero")) == 1
    said = capsys.readouterr()
    assert said.out == ""
    assert len(said.err.splitlines()) == 1
    assert "fault of ours" in said.err
    assert "Traceback" not in said.err
    assert "ZeroDivisionError" in (tmp_path / "faults.log").read_text(encoding="utf-8")


def test_an_unwritable_folder_does_not_hide_the_fault(
    ending: Ending, capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    monkeypatch.setenv("PLASMAWRIGHT_DATA", str(tmp_path / "file"))
    assert ending.with_error(ZeroDivisionError()) == 1
    assert "fault of ours" in capsys.readouterr().err
