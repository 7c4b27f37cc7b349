"""From a local time that somebody typed to an instant, across the clock change."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

ZERO = timedelta(0)


def local_instant(given: str | datetime, zone: str | ZoneInfo, *, first: bool | None = None) -> datetime:
    """The instant of a local time in `zone`, in UTC: there every two instants compare as they should, while
    Python never finds a time in a repeated hour equal to one of another zone (PEP 495).

    Args:
        given: ISO text ("2026-10-25 01:30") or a naive datetime by the wall clock of `zone`. One that states
            its offset is an instant already.
        first: which of the two is meant where the clock goes back over that time; else it is not looked at.

    Raises:
        ValueError: if it is no time, if the clock skips it, or if it comes twice and `first` is not said.
    """
    zone = ZoneInfo(zone) if isinstance(zone, str) else zone
    if isinstance(given, str):
        try:
            given = datetime.fromisoformat(given.strip())
        except ValueError:
            raise ValueError(f"“{given}” is no date and time: write it like 2026-10-25 14:30.") from None
    if given.tzinfo is not None:
        return given.astimezone(UTC)
    early, late = (given.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    change = int(abs((early.utcoffset() or ZERO) - (late.utcoffset() or ZERO)).total_seconds() // 60)
    words = f"{given:%H:%M} on {given:%-d %b %Y}"
    if early.astimezone(UTC).astimezone(zone).replace(tzinfo=None) != given:
        raise ValueError(
            f"{words} does not exist in {zone.key}: the clock goes forward {change} minutes over it. "
            "Give the time that the clock showed."
        )
    if change and first is None:
        raise ValueError(
            f"{words} comes twice in {zone.key}: the clock goes back {change} minutes. "
            "Say whether the first or the second is meant."
        )
    return (late if change and not first else early).astimezone(UTC)
