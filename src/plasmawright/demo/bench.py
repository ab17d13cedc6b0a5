"""The invented bench: a centrifuge with its rotors, kinds of tube, supplies with their lots, and passed checks."""

import tomllib
from collections.abc import Mapping
from datetime import datetime, timedelta
from importlib.resources import files
from typing import Any

from plasmawright.practice.checks import CheckKind
from plasmawright.records.models import Centrifuge, Clinic, Person
from plasmawright.records.services.checks import check_centrifuge, check_scale, keep_certificate
from plasmawright.records.services.lots import add_supply, receive_lot
from plasmawright.records.services.shelf import add_adapter, add_centrifuge, add_rotor, add_tube_kind


def bench_document() -> dict[str, Any]:
    """Return the invented bench as its file tells it. Any: the file holds numbers, words and yes or no."""
    return tomllib.loads(files("plasmawright.demo").joinpath("bench.toml").read_text(encoding="utf-8"))


def lay_out_bench(clinic: Clinic, by: Person, at: datetime) -> None:
    """Put the invented bench on the shelf of ``clinic``; one lot is nearly out of date, one supply is short."""
    told = bench_document()
    centrifuges = {
        name: add_centrifuge(clinic=clinic, name=name, by=by, at=at, **fields)
        for name, fields in told["centrifuges"].items()
    }
    _lay_out_rotors_and_tubes(told, centrifuges, clinic=clinic, by=by, at=at)
    for supply in told["supplies"]:
        _stock(supply, clinic=clinic, by=by, at=at)
    for centrifuge in centrifuges.values():
        _check(told["checks"], centrifuge, by=by, at=at)


def _lay_out_rotors_and_tubes(
    told: Mapping[str, Any], centrifuges: Mapping[str, Centrifuge], *, clinic: Clinic, by: Person, at: datetime
) -> None:
    rotors = {
        name: add_rotor(
            clinic=clinic, name=name, by=by, at=at, **{**fields, "centrifuge": centrifuges[fields["centrifuge"]]}
        )
        for name, fields in told["rotors"].items()
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


def _stock(told: Mapping[str, Any], *, clinic: Clinic, by: Person, at: datetime) -> None:
    fields = {key: value for key, value in told.items() if key != "lots"}
    supply = add_supply(clinic=clinic, by=by, at=at, **fields)
    for lot in told["lots"]:
        days = lot.get("expires_in_days")
        expires_on = None if days is None else at.date() + timedelta(days=days)
        receive_lot(supply=supply, number=lot["number"], expires_on=expires_on, quantity=lot["quantity"], by=by, at=at)


def _check(told: Mapping[str, Any], centrifuge: Centrifuge, *, by: Person, at: datetime) -> None:
    def ago(kind: CheckKind) -> dict[str, Any]:
        return {"done_on": at.date() - timedelta(days=told[kind]["days_ago"]), "by": by, "at": at}

    for kind in (CheckKind.SPEED, CheckKind.TIMER):
        check_centrifuge(
            centrifuge=centrifuge, kind=kind, set_to=told[kind]["set_to"], read=told[kind]["read"], **ago(kind)
        )
    scale, hood = told[CheckKind.SCALE], told[CheckKind.HOOD]
    check_scale(
        clinic=centrifuge.clinic, name=scale["name"], nominal_g=scale["nominal_g"], read_g=scale["read_g"],
        **ago(CheckKind.SCALE),
    )  # fmt: skip
    keep_certificate(
        clinic=centrifuge.clinic, name=hood["name"], number=hood["number"], passed=True,
        expires_on=at.date() + timedelta(days=hood["valid_days"]), **ago(CheckKind.HOOD),
    )  # fmt: skip
