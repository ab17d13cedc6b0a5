"""What `serve` starts: a module of ours in a process that does not outlive the supervisor.

``python -m plasmawright.cli.supervisor_child MODULE …`` runs MODULE. The supervisor holds the other end of a pipe; when
it ends, however it ends, the pipe closes and the whole process group of the child is gone at once.
"""

import os
import runpy
import signal
import sys
import threading

LIFELINE_VARIABLE = "PLASMAWRIGHT_LIFELINE"


def end_with_the_supervisor() -> None:
    """Watch the pipe from a thread of this process; a process that was forked from this one calls it again."""
    lifeline = int(os.environ[LIFELINE_VARIABLE])
    threading.Thread(target=_end_when_closed, args=(lifeline,), daemon=True).start()


def _end_when_closed(lifeline: int) -> None:
    os.read(lifeline, 1)  # nobody writes: this returns when the last other end is closed
    os.killpg(os.getpgrp(), signal.SIGKILL)


def run(arguments: list[str]) -> None:
    """Run the module named first, with what follows as its arguments."""
    end_with_the_supervisor()
    sys.argv = arguments
    runpy.run_module(arguments[0], run_name="__main__", alter_sys=True)


if __name__ == "__main__":
    run(sys.argv[1:])
