"""`manage.py demo`: the sample yard, its winter packed and posted, and the site with a worker beside it."""

import datetime as dt
import io
import json
import os
import socket
import sys
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from scheduling.actions.packing import work_on
from scheduling.actions.packs import ask_pack, reap_packs, stop_pack
from scheduling.actions.plans import post_plan
from scheduling.actions.reading import schedule_of
from scheduling.actions.snapshots import restore
from scheduling.engine.witness import check
from scheduling.management.processes import keep, worker_command
from scheduling.models import OPEN_PACKS, Board, Pack
from yard.actions.accounts import make_sample_accounts
from yard.actions.base import Refused
from yard.models import Role, Season, User, Yard
from yard.roles import Actor, actor_for

FOLDER = Path(settings.BASE_DIR) / "demo"
TODAY = "2026-11-24"


class Command(BaseCommand):
    """Make, pack, post, and serve."""

    help = "Makes the sample yard, packs and posts its winter, and serves the site with a worker beside it."

    def add_arguments(self, parser: CommandParser) -> None:
        """Say what may be asked for."""
        parser.add_argument("--once", action="store_true", help="do all but serve; last line is JSON")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--seconds", type=int, default=15, help="how long to pack [s]")
        parser.add_argument("--seed", type=int, default=1)

    def handle(self, *args: Any, **options: Any) -> None:
        """Do it in the order of a winter."""
        _hold_today()
        if not options["once"]:
            _see_that_port_is_free(options["port"])
        call_command("migrate", interactive=False, verbosity=0)
        yard = self._yard()
        accounts = make_sample_accounts(yard)
        who = _manager(accounts[Role.MANAGER][0], yard)
        season = Season.objects.filter(yard=yard, closed_on=None).latest("first_day")
        if options["once"] or not Board.objects.filter(season=season, posted__isnull=False).exists():
            try:
                pack = self._pack(who, season, options["seconds"], options["seed"])
            except Refused as refused:
                raise CommandError(refused.sentence) from refused
            figures = _figures(pack)
            self._tell(pack, figures)
        self.stdout.write("Accounts, with passwords made just now:")
        for role, (name, password) in accounts.items():
            self.stdout.write(f"  {name:<8} {password}   the yard's {role}")
        if options["once"]:
            self.stdout.write(json.dumps(figures))
        else:
            self._serve(options["port"])

    def _yard(self) -> Yard:
        """The sample yard: read from its folder, by the same way as any yard, unless it is there."""
        yard = Yard.objects.filter(is_sample=True, retired_on=None).first()
        if yard is None:
            said = io.StringIO()
            call_command("importyard", str(FOLDER), sample=True, stdout=said, stderr=self.stderr)
            self.stdout.write(said.getvalue().splitlines()[-1])
            yard = Yard.objects.get(is_sample=True, retired_on=None)
        return yard

    def _pack(self, who: Actor, season: Season, seconds: int, seed: int) -> Pack:
        """Ask for a pack, do it here and now, and post what comes of it."""
        self._leave_off(who, season)
        self.stdout.write(f"Packing {season} of {who.yard} for {seconds} s ...")
        self.stdout.flush()
        pack = ask_pack(who, season=season, seconds=seconds, seed=seed)
        work_on(pack.pk, worker="demo")
        pack.refresh_from_db()
        if pack.plan is None:
            raise CommandError(f"The pack {pack.state}: {pack.reason}")
        board = Board.objects.get(season=season)
        post_plan(who, board=board, version=board.version, plan=pack.plan)
        pack.plan.refresh_from_db()
        return pack

    def _leave_off(self, who: Actor, season: Season) -> None:
        """End a pack that an earlier run left behind."""
        left = open_pack(season)
        if left is None:
            return
        left = stop_pack(who, pack=left)
        reap_packs(timezone.now(), season=season)
        if open_pack(season) is not None:
            raise CommandError("A pack is at work on this season; is another demo running?")

    def _tell(self, pack: Pack, figures: dict[str, Any]) -> None:
        """The outcome in a few plain lines."""
        plan, money = pack.plan, pack.yard.currency
        assert plan is not None  # noqa: S101 _pack has seen to it
        bound = figures["bound"]
        if pack.reason:
            self.stdout.write(pack.reason)
        self.stdout.write(
            f"Plan {plan.number} is posted: {figures['placed']} of {figures['boats']} boats placed, "
            f"{figures['late_boats']} late by {figures['late_days']} days in all, "
            f"{figures['breaches']} rules broken."
        )
        proven = f"; no plan can cost less than {bound / 100:,.2f}" if bound is not None else ""
        self.stdout.write(f"It costs {money} {figures['cost'] / 100:,.2f}{proven}.")
        for kind, amount in sorted(plan.cost.items(), key=lambda item: -item[1]):
            self.stdout.write(f"  {kind.replace('_', ' '):<9} {amount / 100:>12,.2f}")
        for row in plan.unplaced.select_related("treatment__boat"):
            self.stdout.write(f"  {row.treatment.boat} is left out: {row.says}")

    def _serve(self, port: int) -> None:
        """Serve until told to end."""
        self.stdout.write(f"Log in at http://127.0.0.1:{port}/   (Ctrl-C ends it)")
        self.stdout.flush()
        site = [
            *(sys.executable, "-m", "gunicorn", "yard.wsgi", "--bind", f"127.0.0.1:{port}"),
            *("--workers", "2", "--threads", "4", "--log-level", "warning"),
        ]
        sys.exit(keep({"site": site, "packer": worker_command()}, again=("packer",), say=self.stderr.write))


def open_pack(season: Season) -> Pack | None:
    """The pack that somebody still has to finish."""
    return Pack.objects.filter(season=season, state__in=OPEN_PACKS).first()


def _see_that_port_is_free(port: int) -> None:
    """Before the work rather than after it."""
    with socket.socket() as door:
        door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            door.bind(("127.0.0.1", port))
        except OSError as error:
            raise CommandError(f"Port {port} is taken by another program; choose one by --port.") from error


def _hold_today() -> None:
    """The demo's day, here and in all that is begun from here."""
    day = os.environ.setdefault("SHEDTIDE_TODAY", TODAY)
    settings.SHEDTIDE_TODAY = dt.date.fromisoformat(day)


def _manager(name: str, yard: Yard) -> Actor:
    who = actor_for(User.objects.get(username=name), yard.slug)
    assert who is not None  # noqa: S101 the account was made a line ago
    return who


def _figures(pack: Pack) -> dict[str, Any]:
    """What `--once` ends with; breaches are counted on the plan as it was stored and read back."""
    plan = pack.plan
    assert plan is not None and pack.problem is not None and pack.refs is not None  # noqa: S101
    loaded = restore(pack.problem, pack.refs)
    breaches = check(loaded.problem, schedule_of(loaded, plan))
    placed = plan.placements.values("stage__treatment").distinct().count()
    assert pack.finished_at is not None  # noqa: S101
    return {
        "boats": len(loaded.problem.jobs) + len(loaded.says),
        "placed": placed,
        "breaches": sum(1 for breach in breaches if not breach.fact),
        "late_boats": plan.late_boats,
        "late_days": plan.late_days,
        "cost": sum(plan.cost.values()),
        "bound": plan.bound,
        "first_plan_s": pack.progress.get("first_plan_s"),
        "seconds": round((pack.finished_at - pack.asked_at).total_seconds(), 2),
    }
