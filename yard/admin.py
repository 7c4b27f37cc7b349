"""The admin site shows every record and writes none: actions do that."""

from typing import TYPE_CHECKING, Any

from django.apps import apps
from django.contrib import admin
from django.db import models
from django.http import HttpRequest

if TYPE_CHECKING:
    ModelAdmin = admin.ModelAdmin[models.Model]
else:  # Django's own class takes no parameter
    ModelAdmin = admin.ModelAdmin


class Shown(ModelAdmin):
    """A record to look at."""

    list_per_page = 50
    show_full_result_count = False

    def has_add_permission(self, request: HttpRequest) -> bool:
        """Nobody adds here."""
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """Nobody changes anything here."""
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """Nobody deletes here."""
        return False


class ShownUser(Shown):
    """An account, without the digest of its password."""

    exclude = ("password",)


def show_all(label: str) -> None:
    """Put every record of a package on the admin site, to look at."""
    for model in apps.get_app_config(label).get_models():
        admin.site.register(model, ShownUser if model.__name__ == "User" else Shown)


show_all("yard")
