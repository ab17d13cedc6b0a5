"""Parameter sets: joint draws that travel as SET.json and come back the same."""

from typing import Any

import numpy as np
import pytest

from plasmawright.errors import Refusal
from plasmawright.parameters import sets
from plasmawright.parameters.table import rows


def test_a_set_of_one_draw_stands_at_every_centre() -> None:
    centre = sets.central()
    assert all(centre.column(name)[0] == row.value for name, row in rows().items())


def test_draws_have_the_centre_and_spread_of_their_rows() -> None:
    """A normal row without bounds in reach: mean and standard deviation of 4096 even draws, to 2 %."""
    draws = sets.drawn(count=4096, seed=5).column("red_cell_volume_fl")
    row = rows()["red_cell_volume_fl"]
    assert float(draws.mean()) == pytest.approx(row.value, rel=0.001)
    assert float(draws.std()) == pytest.approx(row.spread, rel=0.02)


def test_a_learned_set_comes_back_joint() -> None:
    """Two quantities that go together still do after the journey: marginals alone would lose it."""
    joint = np.random.default_rng(1).multivariate_normal([3.0, 0.7], [[0.09, 0.027], [0.027, 0.01]], size=400)
    document: dict[str, Any] = {
        "origin": "learned",
        "setting": {"rotor": "r"},
        "names": ["red_cell_aggregation", "platelet_mobility"],
        "draws": joint.tolist(),
        "weights": [1.0] * 400,
    }
    back = sets.from_document(document, count=400, seed=1)
    found = np.asarray(np.corrcoef(back.column("red_cell_aggregation"), back.column("platelet_mobility")))
    assert found == pytest.approx(np.asarray(np.corrcoef(joint.T)), abs=1e-9)
    assert back.origin == "learned"
    assert back.setting == {"rotor": "r"}


def test_weights_say_how_often_a_draw_stands() -> None:
    document = {"names": ["platelet_mobility"], "draws": [[0.5], [0.9]], "weights": [3, 1]}
    back = sets.from_document(document, count=100, seed=1).column("platelet_mobility")
    assert np.count_nonzero(back == 0.5) == 75


def test_the_digest_names_the_draws() -> None:
    one, other = sets.drawn(count=8, seed=1).as_document(), sets.drawn(count=8, seed=2).as_document()
    assert one["digest"] == sets.drawn(count=8, seed=1).as_document()["digest"]
    assert one["digest"] != other["digest"]


@pytest.mark.parametrize(
    "document",
    [
        {},
        {"names": ["platelet_mobility"], "draws": [[0.5]], "weights": []},
        {"names": ["platelet_mobility"], "draws": [[0.5, 1.0]], "weights": [1]},
        {"names": ["platelet_mobility"], "draws": [[float("nan")]], "weights": [1]},
        {"names": ["no_such_row"], "draws": [[0.5]], "weights": [1]},
        {"names": ["platelet_mobility"], "draws": [[0.5]], "weights": [-1]},
        {"names": 3, "draws": "x", "weights": None},
    ],
)
def test_what_is_no_set_is_refused(document: dict[str, Any]) -> None:
    with pytest.raises(Refusal):
        sets.from_document(document, count=16, seed=1)
