"""The front door of the command line."""

import subprocess
import sys
from pathlib import Path

COMMAND = str(Path(sys.executable).with_name("plasmawright"))


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys; from plasmawright.cli.main import code_of; code_of(['--help']);"
        "heavy = {'numpy', 'scipy', 'numba', 'django', 'granian'} & set(sys.modules);"
        "sys.exit(f'{heavy}' if heavy else 0)"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stderr
    assert "demo" in ran.stdout


def test_a_mistyped_option_is_refused_in_three_lines_with_the_nearest_known(tmp_path: Path) -> None:
    command = [COMMAND, "demo", "--jsn"]
    ran = subprocess.run(command, capture_output=True, text=True, check=False, cwd=tmp_path)
    assert ran.returncode == 2
    assert ran.stdout == ""
    assert "--json" in ran.stderr
    assert len(ran.stderr.splitlines()) <= 3


def test_a_mistyped_command_is_refused_with_the_nearest_known() -> None:
    command = [COMMAND, "dmeo"]
    ran = subprocess.run(command, capture_output=True, text=True, check=False)
    assert ran.returncode == 2
    assert "demo" in ran.stderr
