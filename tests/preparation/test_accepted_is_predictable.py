"""What reading accepts, the prediction carries through or refuses in our own words: no range is wider than that."""

import copy
import json
import tomllib
from pathlib import Path
from typing import Any  # a document as read or printed is nested plain data of any kind

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as some

from plasmawright.errors import PlasmawrightError
from plasmawright.parameters.sets import central
from plasmawright.preparation.prediction import predict
from plasmawright.preparation.protocol import Preparation
from plasmawright.preparation.ranges import RANGES
from plasmawright.preparation.reading import preparation_from

EXAMPLE: dict[str, Any] = tomllib.loads(
    (Path(__file__).parents[2] / "docs" / "examples" / "contract.toml").read_text(encoding="utf-8")
)
# The table also holds the fields of a visit, which a preparation does not have.
OF_A_VISIT = ("patient.", "bench.", "sites.", "limits.", "blood.counted_days_ago", "blood.hemoglobin_g_per_dl")
NAMES = sorted(name for name in RANGES if not name.startswith(OF_A_VISIT))
SPINS, WITHDRAWAL, REMOVAL, RESUSPENSION = (0, 2), 1, 3, 4


def put(document: dict[str, Any], name: str, value: float, data: some.DataObject) -> None:
    """Put ``value`` where a field of that name stands in the example."""
    kind, key = name.split(".")
    steps = document["steps"]
    if kind == "tubes":
        conical = key in ("cone_height_mm", "tip_diameter_mm") or data.draw(some.booleans())
        document["tubes"]["conical" if conical else "collection"][key] = value
    elif kind == "spin":
        step = steps[data.draw(some.sampled_from(SPINS))]
        if key in ("rcf", "rpm"):
            step.pop("rcf", None)
            step.pop("rpm", None)
        step[key] = value
    elif kind == "withdraw" and key != "pool_tubes":
        steps[WITHDRAWAL].update(stop=key, value=value)
    elif kind in ("withdraw", "remove_supernatant", "resuspend"):
        at = {"withdraw": WITHDRAWAL, "remove_supernatant": REMOVAL, "resuspend": RESUSPENSION}[kind]
        steps[at][key] = value
    else:
        document[kind][key] = value


def predicted(preparation: Preparation) -> Any:
    """The document printed, or what a refusal says; any other exception is what this test looks for."""
    try:
        return predict(preparation, central()).as_document()
    except PlasmawrightError as refusal:
        return str(refusal)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow])
@given(names=some.lists(some.sampled_from(NAMES), min_size=1, max_size=4), data=some.data())
def test_every_accepted_input_is_predicted_or_refused_in_our_own_words(names: list[str], data: some.DataObject) -> None:
    document = copy.deepcopy(EXAMPLE)
    for name in names:
        allowed = RANGES[name]
        value = data.draw(some.floats(allowed.low, allowed.high))
        put(document, name, round(value) if name.endswith("tubes") else value, data)
    try:
        preparation = preparation_from(document)
    except PlasmawrightError:
        assume(False)
    answer = predicted(preparation)
    # an answer closes its ledger of cells (the promise is 1e-9) at the ends of every range, and never prints a NaN
    assert isinstance(answer, str) or answer["ledger"]["error_frac"] < 1e-9
    assert "NaN" not in json.dumps(answer)
    assert "Infinity" not in json.dumps(answer)
