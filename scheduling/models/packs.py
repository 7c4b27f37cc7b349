"""Runs of the packer, and the heartbeats of what runs beside the site."""

from datetime import datetime

from django.db import models
from django.db.models import Q

from scheduling.models.plans import Plan
from yard.models import Season, User
from yard.models.base import YardRecord, above_zero, between, check, known, once


class PackState(models.TextChoices):
    """Life of a pack."""

    QUEUED = "queued"
    WORKING = "working"
    DONE = "done"
    FAILED = "failed"
    STOPPED = "stopped"


class PackKind(models.TextChoices):
    """What a pack is asked for: a plan, the posted plan mended, or what would help."""

    PACK = "pack"
    REPAIR = "repair"
    HELPS = "helps"


OPEN_PACKS = (PackState.QUEUED, PackState.WORKING)
"""A pack that somebody still has to finish."""


class Pack(YardRecord):
    """One run of the packer; this row, not a message, is the truth about it.

    `kind` says what was asked: a plan of the season; the posted plan mended, which makes none where nothing
    has to move; or what would help, which never makes one. `start_from` is the plan that was posted then.
    `seconds` is the longest it may run [s], `work` a count of tries instead, for runs that must repeat
    exactly. `token` and `lease_until` say which worker has it; `best_cost` and `bound` are how far it has
    come [minor units]. `refs` says what the names in `problem` stand for. `progress` is what else there is to
    show: {"cost": {kind: minor units}, "first_plan_s": s, "curve": [[s, minor units], ...], "contradictions":
    [sentence, ...], "breaches": [sentence, ...], "refused": folder under SHEDTIDE_DATA, "helps": [a Help as
    the engine says it, ...], "searches": [done, of]}; a key may be missing. A pack that was stopped has a
    plan if it had found one.
    """

    season = models.ForeignKey(Season, models.PROTECT, related_name="packs")
    kind = models.CharField(max_length=6, choices=PackKind.choices, default=PackKind.PACK)
    state = models.CharField(max_length=7, choices=PackState.choices, default=PackState.QUEUED)
    asked_by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")
    asked_at = models.DateTimeField()
    start_from = models.ForeignKey(Plan, models.PROTECT, null=True, blank=True, related_name="+")
    seconds = models.PositiveIntegerField()
    work = models.PositiveIntegerField(null=True, blank=True)
    seed = models.PositiveIntegerField(default=1)
    problem = models.JSONField(null=True, blank=True)
    problem_sha256 = models.CharField(max_length=64, blank=True)
    refs = models.JSONField(null=True, blank=True)
    phase = models.CharField(max_length=40, blank=True)
    progress = models.JSONField(default=dict, blank=True)
    best_cost = models.BigIntegerField(null=True, blank=True)
    bound = models.BigIntegerField(null=True, blank=True)
    tries = models.PositiveSmallIntegerField(default=0)
    token = models.UUIDField(null=True, blank=True)
    lease_until = models.DateTimeField(null=True, blank=True)
    beat_at = models.DateTimeField(null=True, blank=True)
    stop_asked_at = models.DateTimeField(null=True, blank=True)
    reason = models.TextField(blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)
    plan = models.ForeignKey(Plan, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["-asked_at"]
        constraints = [
            known("state", PackState),
            known("kind", PackKind),
            once(
                "season",
                when=Q(state__in=OPEN_PACKS),
                name="one_open_pack_a_season",
                says="The packer is at work on this season already.",
            ),
            check(
                Q(plan__isnull=False, state__in=(PackState.DONE, PackState.STOPPED)) & ~Q(kind=PackKind.HELPS)
                | Q(plan__isnull=True) & ~Q(state=PackState.DONE, kind=PackKind.PACK),
                name="a_done_pack_has_a_plan",
                says="A pack is done when its plan is stored; one that was stopped may have a plan too.",
            ),
            check(
                ~Q(state=PackState.FAILED) | ~Q(reason=""),
                name="a_failed_pack_says_why",
                says="A pack that fails says why.",
            ),
            *between(0, 3, "tries"),
            *above_zero("seconds"),
        ]

    def __str__(self) -> str:
        return f"pack {self.pk}, {self.state}"


class Beat(models.Model):
    """The last sign of life of a worker, the backup, the clock."""

    name = models.CharField(max_length=40, unique=True)
    at = models.DateTimeField()

    def __str__(self) -> str:
        return self.name

    @classmethod
    def last(cls) -> dict[str, datetime]:
        """Return when each of them was last heard of."""
        return dict(cls.objects.values_list("name", "at"))
