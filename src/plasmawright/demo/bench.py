"""The invented bench: two rotors, three kinds of tube, and what carries one in the other."""

import tomllib
from datetime import datetime
from importlib.resources import files
from typing import Any

from plasmawright.records.models import Clinic, Person
from plasmawright.records.services.shelf import add_adapter, add_rotor, add_tube_kind


def bench_document() -> dict[str, Any]:
    """Return the invented bench as its file tells it. Any: the file holds numbers, words and yes or no."""
    return tomllib.loads(files("plasmawright.demo").joinpath("bench.toml").read_text(encoding="utf-8"))


def lay_out_bench(clinic: Clinic, by: Person, at: datetime) -> None:
    """Put the invented rotors, tubes and adapters on the shelf of ``clinic``."""
    told = bench_document()
    rotors = {
        name: add_rotor(clinic=clinic, name=name, by=by, at=at, **fields) for name, fields in told["rotors"].items()
    }
    kinds = {
        name: add_tube_kind(clinic=clinic, name=name, by=by, at=at, **fields) for name, fields in told["tubes"].items()
    }
    for adapter in told["adapters"]:
        add_adapter(
            rotor=rotors[adapter["rotor"]],
            tube_kind=kinds[adapter["tube"]],
            bottom_radius_mm=adapter["bottom_radius_mm"],
            max_rcf=adapter.get("max_rcf"),
            by=by,
            at=at,
        )
