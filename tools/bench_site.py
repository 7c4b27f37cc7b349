"""The figures of the site, and of the trade's arithmetic: rows of `tools/bench.py`."""

from __future__ import annotations

import contextlib
import io
import json
import os
import re
import shutil
import statistics
import sys
import time
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

from scheduling.engine.jsonio import to_json
from tools.rows import ROOT, Row, row
from yard.trade.belief import prior
from yard.trade.drydays import forecast_days, points_of
from yard.trade.drying import REGIMES, TENT, TENT_C, decay_a_day
from yard.trade.forecast import fit
from yard.trade.rounds import RoundRead, usable

MORE = 8  # boats that come to the demo yard a second time


def imported_demo(folder: Path) -> Path:
    """Import the demo yard into a database of its own in `folder`. Returns the file with its Problem."""
    for name in ("DATABASE_URL", "REDIS_URL"):
        os.environ.pop(name, None)
    os.environ |= {
        "SHEDTIDE_DATA": str(folder),
        "SHEDTIDE_TODAY": "2026-11-24",
        "DJANGO_SETTINGS_MODULE": "yard.settings",
    }
    import django  # noqa: PLC0415 its settings read the environment

    django.setup()
    from django.core.management import call_command  # noqa: PLC0415

    from scheduling.loading.loaded import load  # noqa: PLC0415
    from yard.models import Season  # noqa: PLC0415

    with contextlib.redirect_stdout(io.StringIO()):
        call_command("migrate", verbosity=0)
        call_command("importyard", str(ROOT / "demo"), sample=True)
    file = folder / "demo.json"
    file.write_text(json.dumps(to_json(load(Season.objects.get()).problem)))
    return file


def wall() -> Iterator[Row]:
    """What the Wall of the demo yard, packed, asks of the database and of a browser."""
    from django.core.management import call_command  # noqa: PLC0415 set up by imported_demo
    from django.db import connection  # noqa: PLC0415
    from django.test import Client  # noqa: PLC0415
    from django.test.utils import CaptureQueriesContext  # noqa: PLC0415

    from yard.models import Membership, Role  # noqa: PLC0415

    call_command("demo", once=True, seconds=5, stdout=io.StringIO())
    member = Membership.objects.get(role=Role.MANAGER, ended_on=None)
    client = Client(HTTP_HOST="localhost")
    client.force_login(member.user)
    with CaptureQueriesContext(connection) as queries:
        answer = client.get(f"/{member.yard.slug}/wall/")
    if answer.status_code != 200:
        sys.exit(f"the Wall answers {answer.status_code}")
    yield row("Wall of the demo yard: queries", len(queries), 25)
    yield row("Wall of the demo yard: HTML", len(answer.content), 100_000, unit="bytes")
    elements = len(re.findall(rb"<[a-z]", answer.content))
    yield row("Wall of the demo yard: elements", elements, 1_400)


def finish_tables(folder: Path) -> Row:
    """[s] from the records of 40 boats to their Problem, all finish tables in it, the middle one of five.

    The demo yard's boats, and its last ones a second time.
    """
    from django.core.management import call_command  # noqa: PLC0415 set up by imported_demo

    from scheduling.loading.loaded import load  # noqa: PLC0415
    from yard.models import Season  # noqa: PLC0415

    more = folder / "more"
    shutil.copytree(ROOT / "demo", more)
    yard = (
        (more / "yard.csv")
        .read_text("utf-8")
        .replace("Sample Creek Yard", "More")
        .replace("sample-creek", "more")
    )
    (more / "yard.csv").write_text(yard, "utf-8")
    for name in ("boats.csv", "treatments.csv"):
        lines = (more / name).read_text("utf-8").splitlines()
        again = [line.replace(",", " again,", 1) for line in lines[1 + len(lines[1:]) - MORE :]]
        (more / name).write_text("\n".join([*lines, *again]) + "\n", "utf-8")
    with contextlib.redirect_stdout(io.StringIO()):
        call_command("importyard", str(more))
    season = Season.objects.get(yard__slug="more")
    took = []
    for _ in range(5):
        began = time.perf_counter()
        told = load(season).problem
        took.append(time.perf_counter() - began)
    what = f"all finish tables and the Problem of {len(told.jobs)} boats from their records"
    return row(what, round(statistics.median(took), 3), 1, unit="s")


def drying_forecast() -> Row:
    """[ms] from 20 rounds of 24 spots to the three days of a forecast, the middle one of nine."""
    first = date(2026, 11, 2)
    decays = [decay_a_day(TENT, TENT_C)] * 400
    rounds = [
        RoundRead(
            first + timedelta(weeks=week),
            {f"S{spot}": 12 + 50 * 0.85**week + (7 * spot + 5 * week) % 11 - 5 for spot in range(24)},
            "meter",
            "deep",
        )
        for week in range(20)
    ]
    took = []
    for _ in range(9):
        began = time.perf_counter()
        points = points_of(usable(rounds).points, first, decays)
        forecast_days(fit(points, prior(REGIMES[TENT]), 20), decays, first)
        took.append(time.perf_counter() - began)
    ms = round(1000 * statistics.median(took), 1)
    return row("a drying forecast of 20 rounds × 24 spots", ms, 5, unit="ms")
