"""How soon the command line says what it can do."""

import subprocess
import sys

from benchmarks.measured import Measured, best_s


def measure() -> list[Measured]:
    """Measure ``--help`` as a person runs it."""
    command = [sys.executable, "-m", "plasmawright", "--help"]
    took_s = best_s(lambda: subprocess.run(command, check=True, stdout=subprocess.DEVNULL), times=5)
    return [
        Measured(
            what="plasmawright --help, whole process (s)",
            promised="at most 0.5",
            measured=f"{took_s:.2f}",
            kept=took_s <= 0.5,
        )
    ]
