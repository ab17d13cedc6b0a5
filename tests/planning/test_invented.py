"""Practice blood is one the plan thought possible, the same for a seed, and differs between seeds."""

import tomllib
from pathlib import Path

import numpy as np

from plasmawright.parameters.sets import drawn
from plasmawright.planning.invented import invented
from plasmawright.planning.reading import visit_from
from plasmawright.planning.revise import Settled, revised_plan

SETTLED = Settled(tubes=3, soft_rpm=1280.0, soft_minutes=6.0, hard_tubes=2, hard_rpm=3340.0, hard_minutes=8.0)


def test_invented_blood_lies_where_the_plan_thinks_possible(root: Path) -> None:
    visit = visit_from(tomllib.loads((root / "docs/examples/visit.toml").read_text(encoding="utf-8")))
    plan = revised_plan(visit, SETTLED, drawn(count=256, seed=1))
    found = [invented(visit, SETTLED, seed=seed) for seed in range(8)]
    low, high = np.min(plan.interface_mm) - 3.0, np.max(plan.interface_mm) + 3.0
    assert all(low <= one.interface_mm <= high for one in found)
    assert len({one.interface_mm for one in found}) == len(found)
    assert invented(visit, SETTLED, seed=3) == found[3]
