"""What tests of faults share: one bench made once, and a copy of it for every test."""

from collections.abc import Iterator

import pytest
from tests.bench_server import Bench, BenchServer, make_bench
from tests.installation import Installation
from tests.machine import Machine, machine_in


@pytest.fixture(scope="session")
def made(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Machine, Bench]]:
    """Return a machine with a bench on it, which no test touches."""
    with machine_in(tmp_path_factory.mktemp("bench") / "data") as machine:
        machine.folder.mkdir()
        yield machine, make_bench(Installation(machine.environment))


@pytest.fixture
def machine(made: tuple[Machine, Bench], tmp_path_factory: pytest.TempPathFactory) -> Iterator[Machine]:
    """Return a machine of its own with that bench."""
    with machine_in(tmp_path_factory.mktemp("machine") / "data", like=made[0]) as found:
        yield found


@pytest.fixture
def bench_server(made: tuple[Machine, Bench], machine: Machine) -> Iterator[BenchServer]:
    """Return a server of that machine, not started yet."""
    server = BenchServer(machine.environment, made[1])
    try:
        yield server
    finally:
        server.end()
