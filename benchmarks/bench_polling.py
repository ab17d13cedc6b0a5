"""How soon an entry is acknowledged while a clinic's tablets look on."""

import os
import tempfile
import threading
import time
from http.client import HTTPException

from tests.bench_server import BenchServer, make_bench
from tests.installation import Installation

from benchmarks.measured import Measured

TABLETS, RUNS = 30, 5
POLLED_EVERY_S, WRITTEN_EVERY_S, LASTS_S = 2.0, 0.5, 20.0
PROMISED_S = 0.100


def measure() -> list[Measured]:
    """Measure acknowledgements on a real server: 30 tablets poll every 2 s while 5 runs write twice a second."""
    with tempfile.TemporaryDirectory() as folder:
        installation = Installation({**os.environ, "PLASMAWRIGHT_DATA": folder})
        server = BenchServer(installation.environment, make_bench(installation, runs=RUNS))
        server.start()
        try:
            took_s = _acknowledged(server)
        finally:
            server.end()
            installation.end()
    took_s.sort()
    p95_s = took_s[int(0.95 * (len(took_s) - 1))]
    return [
        Measured(
            what=f"acknowledgement p95 of {len(took_s)} entries, {TABLETS} tablets polling, {RUNS} runs writing (ms)",
            promised=f"at most {PROMISED_S * 1e3:.0f}",
            measured=f"{p95_s * 1e3:.0f}",
            kept=p95_s <= PROMISED_S,
        )
    ]


def _acknowledged(server: BenchServer) -> list[float]:
    """Return how long each entry took to be acknowledged."""
    ends = time.monotonic() + LASTS_S
    took_s: list[float] = []

    def look(place: int) -> None:
        path = "/today/rows/" if place % 2 else f"/bench/{server.bench.run_ids[place % RUNS]}/step/?position=0"
        time.sleep(POLLED_EVERY_S * place / TABLETS)
        while time.monotonic() < ends:
            began = time.monotonic()
            server.ask("GET", path)
            time.sleep(max(0.0, POLLED_EVERY_S - (time.monotonic() - began)))

    def write(run_id: int) -> None:
        while time.monotonic() < ends:
            began = time.monotonic()
            status, _ = server.tell("note", "identify", {"words": "as it happens"}, run_id=run_id)
            if status != 201:
                raise HTTPException(f"an entry was answered with {status}")
            took_s.append(time.monotonic() - began)
            time.sleep(WRITTEN_EVERY_S)

    threads = [threading.Thread(target=look, args=(place,)) for place in range(TABLETS)]
    threads += [threading.Thread(target=write, args=(run_id,)) for run_id in server.bench.run_ids]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return took_s
