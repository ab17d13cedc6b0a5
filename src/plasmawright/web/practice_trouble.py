"""Trouble on request: which mishap a practice run meets, always the same at one place of one run."""

from zlib import crc32

from plasmawright.bench.facts import RunFacts
from plasmawright.bench.mishaps import MISHAPS, Mishap


def trouble_at(run_id: int, facts: RunFacts) -> Mishap | None:
    """Return a mishap that fits the step, one that was not met yet where there is one; nothing once a run has ended."""
    fitting = [mishap for name, mishap in sorted(MISHAPS.items()) if facts.step in mishap.steps]
    fresh = [mishap for mishap in fitting if mishap.name not in facts.mishaps] or fitting
    if not fresh:
        return None
    return fresh[crc32(f"{run_id}:{facts.position}".encode()) % len(fresh)]
