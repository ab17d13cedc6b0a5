"""Makes the first answer as quick as the next: kernels and draws are loaded while the server starts."""

import os
import threading

from plasmawright.web.asked import asked_in
from plasmawright.web.example import example_settled, example_values
from plasmawright.web.intervals import NICE
from plasmawright.web.reckoning import interval_answer, point_answer


def warm_in_background() -> None:
    """Answer the example once, beside whatever the server does first."""
    threading.Thread(target=_warm, name="warming", daemon=True).start()


def _warm() -> None:
    os.setpriority(os.PRIO_PROCESS, threading.get_native_id(), NICE)  # a bench that comes back is answered first
    asked = asked_in(example_values(), {"settled": example_settled()})
    point_answer(asked)
    if asked.settled is not None:
        interval_answer(asked, asked.settled, None)
