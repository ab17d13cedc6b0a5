"""A spin too weak to part anything leaves no pellet, however many red cells came along."""

import copy
import tomllib
from pathlib import Path
from typing import Any

import pytest

from plasmawright.errors import Refusal
from plasmawright.parameters import sets
from plasmawright.preparation.prediction import predict
from plasmawright.preparation.reading import preparation_from

EXAMPLE: dict[str, Any] = tomllib.loads(
    (Path(__file__).parents[2] / "docs" / "examples" / "contract.toml").read_text(encoding="utf-8")
)


@pytest.mark.parametrize("first_taken_ml", [4.0, 7.0, 9.0])
def test_what_has_not_settled_is_not_pellet(first_taken_ml: float) -> None:
    """At 5 g for six seconds platelets move by microns: what is taken off holds its share by volume.

    The blood is all but unspun, so every layer of the tube holds platelets alike and shares go by volume.
    """
    document = copy.deepcopy(EXAMPLE)
    document["steps"][0].update(rcf=5, minutes=0.1, up_s=0, down_s=0)
    document["steps"][1] = {
        "do": "withdraw", "stop": "volume_ml", "value": first_taken_ml, "pool_into": "conical", "pool_tubes": 3,
    }  # fmt: skip
    document["steps"][2].update(rcf=5, minutes=0.1, up_s=0, down_s=0)
    products = predict(preparation_from(document), sets.central()).products
    rich, poor, lost = products["prp"], products["ppp"], products["lost_in_handling"]
    assert rich is not None
    assert poor is not None
    assert lost is not None
    share = poor["platelets_1e9"][0] / (poor["platelets_1e9"][0] + rich["platelets_1e9"][0] + lost["platelets_1e9"][0])
    volume = poor["volume_ml"][0] / (poor["volume_ml"][0] + rich["volume_ml"][0])
    assert share == pytest.approx(volume, abs=0.03)


def test_less_than_the_pellet_cannot_be_left_over_it() -> None:
    """3000e9/L of 12 fL platelets fill a good part of 0.1 mL: nothing could be brought back into that."""
    document = copy.deepcopy(EXAMPLE)
    document["blood"].update(platelets_1e9_per_l=3000, mean_platelet_volume_fl=12)
    document["steps"][3]["leave_ml"] = 0.1
    with pytest.raises(Refusal) as refused:
        predict(preparation_from(document), sets.central())
    assert refused.value.field == "steps.3.leave_ml"
    assert "Leave at least" in refused.value.remedy
