"""The yard as a Django application."""

from django.apps import AppConfig


class YardConfig(AppConfig):
    """What the yard has, knows and does."""

    name = "yard"

    def ready(self) -> None:
        """Bind tasks to our Celery application in every process that may send one."""
        from yard import celery  # noqa: F401
