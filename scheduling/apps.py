"""Scheduling as a Django application."""

from django.apps import AppConfig


class SchedulingConfig(AppConfig):
    """Deciding when, where and who."""

    name = "scheduling"
