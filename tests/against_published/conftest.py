"""One verdict for every test that holds the model against print."""

import pytest

from plasmawright.parameters.papers import TRENDS, documents, trends_document
from plasmawright.quality.check_model import Verdict, judge_model
from plasmawright.quality.published import cases_from
from plasmawright.quality.trend_files import trends_from

# 5 and 95 % quantiles of 256 draws stand on a dozen draws each: enough to say inside or not, and a minute to make.
DRAWS = 256


@pytest.fixture(scope="session")
def verdict() -> Verdict:
    """Return the model held against everything that comes with the product."""
    return judge_model(cases_from(documents()), trends_from(trends_document(), TRENDS), draws=DRAWS, seed=1)
