"""512 draws of one protocol, the whole process, warm."""

import subprocess
import sys

from benchmarks.measured import Measured, best_s
from benchmarks.spin_map import EXAMPLE


def measure() -> list[Measured]:
    """Measure ``simulate --draws 512`` as a person runs it."""
    command = [sys.executable, "-m", "plasmawright", "simulate", str(EXAMPLE), "--draws", "512", "--json"]

    def run() -> None:
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)

    run()
    took_s = best_s(run, times=3)
    return [
        Measured(
            what="512 draws of the contract's example, whole process (s)",
            promised="at most 3",
            measured=f"{took_s:.2f}",
            kept=took_s <= 3,
        )
    ]
