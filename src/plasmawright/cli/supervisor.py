"""Keeps the processes of `serve` going: one that dies is started again, and all end with it."""

import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from types import FrameType

from plasmawright.cli.supervisor_child import LIFELINE_VARIABLE

LOOK_EVERY_S = 0.1
LIVED_WELL_S = 10.0
"""A process that lived this long is started again at once; one that did not waits longer each time."""
WAIT_S_MIN = 0.25
WAIT_S_MAX = 30.0
ENDS_WITHIN_S = 8.0
STANDING_FILE = "serving.json"


@dataclass
class Child:
    """One module kept running in a process, and a process group, of its own.

    Parameters
    ----------
    command
        The module, and what it is told.
    before
        Called before each start.
    watched
        A file; when it changes, the process is ended politely and started again.
    """

    name: str
    command: tuple[str, ...]
    before: Callable[[], object] = lambda: None
    watched: Path | None = None
    process: "subprocess.Popen[bytes] | None" = None
    started_s: float = 0.0
    next_s: float = 0.0
    failures: int = 0
    seen: int = 0
    leaving_s: float = 0.0


class Supervisor:
    """Starts children and watches over them until a signal says to end.

    Parameters
    ----------
    folder
        Where the numbers of the processes are kept while they run.
    """

    def __init__(self, children: Sequence[Child], *, folder: Path) -> None:
        self.children = children
        self.folder = folder
        self.ending = threading.Event()
        self.far_end, self.near_end = os.pipe()  # the children read the far end; nobody writes
        self.environment = {**os.environ, LIFELINE_VARIABLE: str(self.far_end)}

    def run(self) -> None:
        """Keep every child going until SIGTERM or SIGINT, then end them all."""
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, self._end)
        try:
            while not self.ending.is_set():
                for child in self.children:
                    self._look_after(child)
                self.ending.wait(LOOK_EVERY_S)
        finally:
            self._end_all()
            (self.folder / STANDING_FILE).unlink(missing_ok=True)

    def _end(self, _signal: int, _frame: FrameType | None) -> None:
        self.ending.set()

    def _look_after(self, child: Child) -> None:
        """Start a child that does not run, after its wait; note one that ended; renew one whose file changed."""
        now_s = time.monotonic()
        if child.process is None:
            if now_s >= child.next_s:
                self._start(child, now_s)
            return
        if child.process.poll() is not None:
            self._note_end(child, child.process, now_s)
        elif child.leaving_s:
            if now_s - child.leaving_s > ENDS_WITHIN_S:
                _kill_group(child.process)
        elif child.watched is not None and _changed(child.watched) != child.seen:
            child.leaving_s = now_s
            child.process.terminate()

    def _start(self, child: Child, now_s: float) -> None:
        child.before()
        child.seen = _changed(child.watched) if child.watched else 0
        child.process = subprocess.Popen(  # noqa: S603 - our own modules
            [sys.executable, "-m", "plasmawright.cli.supervisor_child", *child.command],
            env=self.environment,
            pass_fds=(self.far_end,),
            process_group=0,
            stdin=subprocess.DEVNULL,
            stdout=sys.stderr.fileno(),  # standard output is the supervisor's own
        )
        child.started_s, child.leaving_s = now_s, 0.0
        self._tell_who_stands()

    def _note_end(self, child: Child, ended: "subprocess.Popen[bytes]", now_s: float) -> None:
        """Say that a child ended, clear away what it left, and set when the next may start."""
        _kill_group(ended)
        child.process = None
        if child.leaving_s:
            child.next_s = now_s
            return
        child.failures = 0 if now_s - child.started_s > LIVED_WELL_S else child.failures + 1
        wait_s = min(WAIT_S_MAX, WAIT_S_MIN * 2.0**child.failures) if child.failures else 0.0
        child.next_s = now_s + wait_s
        code = ended.returncode
        how = f"by signal {-code}" if code < 0 else f"with exit code {code}"
        print(f"The {child.name} process ended {how}; it is started again in {wait_s:g} s.", file=sys.stderr)

    def _tell_who_stands(self) -> None:
        """Keep the numbers of the processes where a person can find them."""
        standing = {child.name: child.process.pid for child in self.children if child.process is not None}
        beside = self.folder / f".{STANDING_FILE}-{os.getpid()}.part"
        beside.write_text(json.dumps({"supervisor": os.getpid(), **standing}), encoding="ascii")
        beside.replace(self.folder / STANDING_FILE)

    def _end_all(self) -> None:
        """Ask every child to end, and kill what has not ended in time."""
        running = [child.process for child in self.children if child.process is not None]
        for process in running:
            process.terminate()
        deadline_s = time.monotonic() + ENDS_WITHIN_S
        for process in running:
            with suppress(subprocess.TimeoutExpired):
                process.wait(timeout=max(0.0, deadline_s - time.monotonic()))
            _kill_group(process)
            process.wait()


def _kill_group(process: "subprocess.Popen[bytes]") -> None:
    """Kill whatever is left of a child's process group."""
    with suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)


def _changed(file: Path) -> int:
    """Return when a file was last replaced, 0 when it is not there."""
    try:
        return file.stat().st_mtime_ns
    except FileNotFoundError:
        return 0
