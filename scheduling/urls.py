"""The pages of one yard that show a planned date."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
