"""`python -m tests.scheduling.play NAME ARGUMENTS`: one of `played` in a process of its own; prints JSON."""

import importlib
import json
import os
import sys

import django

if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "yard.settings")
    django.setup()
    played = importlib.import_module("tests.scheduling.played")
    print(json.dumps(getattr(played, sys.argv[1])(*sys.argv[2:])))
