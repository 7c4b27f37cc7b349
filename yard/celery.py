"""The Celery application: `celery -A yard.celery worker --beat`."""

import os

from celery import Celery
from kombu.transport import TRANSPORT_ALIASES

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "yard.settings")
TRANSPORT_ALIASES["folder"] = "yard.transport:Transport"

app = Celery("shedtide")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
# Celery holds its current application for each thread apart; web threads that never imported this must find
# it too.
app.set_default()
