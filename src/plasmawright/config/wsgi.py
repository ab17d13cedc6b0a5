"""What the server calls for every request."""

import os
import sys

from django.core.wsgi import get_wsgi_application

from plasmawright.records.data_folder import use_data_folder

TURN_S = 0.0005
"""How long a thread keeps the interpreter from others that want it.

Whoever comes back from the database waits for a turn, a dozen times an answer; at Python's own 5 ms, two pages drawn
beside it make an entry wait a tenth of a second to be acknowledged.
"""

sys.setswitchinterval(TURN_S)
use_data_folder(None)
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "plasmawright.config.settings")
application = get_wsgi_application()

from plasmawright.web.warming import warm_in_background  # noqa: E402 - kernels need the data folder and the settings

warm_in_background()
