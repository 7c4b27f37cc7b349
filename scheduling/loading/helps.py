"""What would help, as the last pack that was asked for it has found, or has found so far."""

from dataclasses import dataclass

from scheduling.engine.helps import Help, in_order
from scheduling.engine.jsonio import BadInput, from_json
from scheduling.loading.winter import Winter
from scheduling.models import OPEN_PACKS, Pack, PackKind, PackState
from yard.models import Entry


@dataclass(frozen=True)
class Helps:
    """A pack that was asked what would help, and what it found: the best first.

    `stale`: another plan is posted since. `noted`: something has happened in the yard since.
    """

    pack: Pack
    found: tuple[Help, ...]
    stale: bool
    noted: bool

    @property
    def at_work(self) -> bool:
        """Whether it is still to begin or to end."""
        return self.pack.state in OPEN_PACKS

    @property
    def failed(self) -> bool:
        """Whether it ended with nothing to keep."""
        return self.pack.state == PackState.FAILED

    @property
    def stopped(self) -> bool:
        """Whether somebody stopped it."""
        return self.pack.state == PackState.STOPPED

    @property
    def searches(self) -> tuple[int, int]:
        """Searches done, and of how many; (0, 0) while the candidates are sifted."""
        done, of = self.pack.progress.get("searches", (0, 0))
        return done, of

    @property
    def clear(self) -> bool:
        """Whether something would help clearly."""
        return any(each.clear for each in self.found)


def helps_of(winter: Winter) -> Helps | None:
    """What the last such pack found; None if nobody has asked in this season. Two queries."""
    packs = Pack.objects.filter(season=winter.season, kind=PackKind.HELPS).defer("problem", "refs")
    pack = packs.select_related("start_from").order_by("-asked_at", "-id").first()
    if pack is None:
        return None
    posted = winter.posted
    since = Entry.objects.of(winter.yard).filter(at__gt=pack.asked_at, about_label__startswith="yard.")
    return Helps(
        pack=pack,
        found=in_order(_stored(pack)),
        stale=posted is None or pack.start_from_id != posted.pk,
        noted=since.exists(),
    )


def others_pack(winter: Winter) -> bool:
    """Whether the packer is at work on the season with something else."""
    return (
        Pack.objects.filter(season=winter.season, state__in=OPEN_PACKS).exclude(kind=PackKind.HELPS).exists()
    )


def _stored(pack: Pack) -> list[Help]:
    """What the pack found; nothing where an earlier version wrote it: that is to be worked out again."""
    try:
        return [from_json(Help, each) for each in pack.progress.get("helps", ())]
    except BadInput:
        return []
