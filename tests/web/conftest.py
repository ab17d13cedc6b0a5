"""A run at the bench, and the machine's clocks in a hand."""

from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest
from django.test import Client

if TYPE_CHECKING:
    from tests.web.bench_desk import Bench

# Models cannot be imported before Django is set up, and this file is read before that: hence the imports inside.


@pytest.fixture
def bench(client: Client) -> "Bench":
    """Return a bench for two people."""
    from tests.web.bench_desk import Bench

    return Bench(client)


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Callable[[float], None]:
    """Hold the machine's clocks; call it to move them on, in seconds."""
    from tests.web.bench_desk import hold_clocks

    return hold_clocks(monkeypatch)
