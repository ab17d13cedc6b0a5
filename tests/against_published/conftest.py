"""One verdict for every test that holds the model against print."""

import pytest

from plasmawright.parameters.papers import TRENDS, documents, trends_document
from plasmawright.quality.check_model import Verdict, judge_model
from plasmawright.quality.published import cases_from
from plasmawright.quality.trend_files import trends_from

# What the command draws unless told otherwise, so that its page and these tests speak of the same verdict.
DRAWS = 256


@pytest.fixture(scope="session")
def verdict() -> Verdict:
    """Return the model held against everything that comes with the product."""
    return judge_model(cases_from(documents()), trends_from(trends_document(), TRENDS), draws=DRAWS, seed=1)
