"""What the server calls for every request."""

import os

from django.core.wsgi import get_wsgi_application

from plasmawright.records.data_folder import use_data_folder

use_data_folder(None)
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "plasmawright.config.settings")
application = get_wsgi_application()

from plasmawright.web.warming import warm_in_background  # noqa: E402 - kernels need the data folder and the settings

warm_in_background()
