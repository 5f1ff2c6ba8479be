"""Celery, where a broker is configured: `celery -A fleet.config.celery worker` (or `beat`)."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.config.settings")

app = Celery("layline")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
