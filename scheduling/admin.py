"""The admin site shows every planning record and writes none."""

from yard.admin import show_all

show_all("scheduling")
