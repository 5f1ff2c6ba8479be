"""The web application, for any WSGI server. `manage.py serve` runs it under Waitress."""

import gc
import os

from django.core.wsgi import get_wsgi_application
from django.urls import get_resolver

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.config.settings")

application = get_wsgi_application()

# All pages are loaded now, not by the first who asks. What stands then stands until the end:
# going through it in search of garbage held up one request in some hundreds by a tenth of a second.
_ = get_resolver().url_patterns
gc.collect()
gc.freeze()
