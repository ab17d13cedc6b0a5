"""A plan with 512 draws, in a warm process and as a whole process, and the point answer for a moved stop."""

import subprocess
import sys
from pathlib import Path

from benchmarks.measured import Measured, best_s
from plasmawright.exchange.toml.read import read_document
from plasmawright.parameters import sets
from plasmawright.planning.choose import choose_plan
from plasmawright.planning.reading import visit_from
from plasmawright.planning.revise import Settled, revised_plan

VISIT = Path(__file__).parent.parent / "docs" / "examples" / "visit.toml"


def measure() -> list[Measured]:
    """Measure the plan of the contract's visit."""
    visit = visit_from(read_document(VISIT))
    many, centre = sets.drawn(count=512, seed=1), sets.central()
    settled = Settled.of(choose_plan(visit, many).chosen)
    plan_s = best_s(lambda: choose_plan(visit, many), times=2)
    point_s = best_s(lambda: revised_plan(visit, settled, centre, margin_mm=3.5), times=20)
    command = [sys.executable, "-m", "plasmawright", "plan", str(VISIT), "--json"]

    def run() -> None:
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)

    whole_s = best_s(run, times=2)
    return [
        Measured(
            what="plan with 512 draws, warm (s)",
            promised="at most 3",
            measured=f"{plan_s:.2f}",
            kept=plan_s <= 3,
        ),
        Measured(what="  the same, whole process (s)", promised="", measured=f"{whole_s:.2f}"),
        Measured(
            what="point answer for a moved stop (ms)",
            promised="at most 100",
            measured=f"{point_s * 1e3:.0f}",
            kept=point_s <= 0.1,
        ),
    ]
