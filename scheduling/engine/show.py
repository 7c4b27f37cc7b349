"""A small plan as text: a row a place, a letter a boat, a column a slot."""

from collections.abc import Iterator
from string import ascii_lowercase, ascii_uppercase, digits

from scheduling.engine.problem import Problem
from scheduling.engine.schedule import Schedule
from scheduling.engine.slots import first_day, last_day

LETTERS = ascii_uppercase + ascii_lowercase + digits
EMPTY, SHUT, CLASH = ".", "/", "#"


def show(problem: Problem, schedule: Schedule) -> str:
    """Draw the plan: lines of equal width, then each boat with her letter and days, or why she is left out.

    A boat that stands without work has a small letter; `/` is a closed place, `#` two boats in one bay.
    """
    letters = {job.id: LETTERS[i % len(LETTERS)] for i, job in enumerate(problem.jobs)}
    names = [label for label, _ in _rows(problem)]
    width = max(map(len, names), default=0)
    rows = {key: [EMPTY] * len(problem.days) for _, key in _rows(problem)}
    for place in problem.places:
        for row in _of_place(rows, place.id):
            for start, end in place.closed:
                row[start:end] = [SHUT] * len(row[start:end])
    pieces = [(time, name) for name, times in schedule.jobs.items() for time in times]
    for time, name in sorted(pieces, key=lambda piece: piece[0].start):
        span = range(max(time.start, 0), min(time.leaves, len(problem.days)))
        letter = letters.get(name, "?")
        row = rows.get((time.place, time.unit)) or _bay_for(_of_place(rows, time.place), span, letter)
        for slot in span:
            mark = letter if slot < time.end else letter.swapcase()
            row[slot] = mark if row[slot] in (EMPTY, SHUT) else CLASH
    lines = [f"{'':{width}} {_months(problem)}"]
    lines += [f"{label:{width}} {''.join(rows[key])}" for label, key in _rows(problem)]
    return "\n".join([*lines, "", *_boats(problem, schedule, letters)]) + "\n"


Key = tuple[str, str | None]


def _rows(problem: Problem) -> Iterator[tuple[str, Key]]:
    """(label, key) of each row: a pool has one for each of its bays."""
    for place in problem.places:
        label = place.label or place.id
        if place.room == 1:
            yield label, (place.id, None)
        for unit in place.units or [str(n + 1) for n in range(place.room if place.room > 1 else 0)]:
            yield f"{label} {unit}", (place.id, unit)


def _of_place(rows: dict[Key, list[str]], place: str) -> list[list[str]]:
    return [row for (name, _), row in rows.items() if name == place]


def _bay_for(bays: list[list[str]], span: range, letter: str) -> list[str]:
    """The bay of a pool, whose bays are not named, that she is in already, else the first that is empty."""
    was = [bay for bay in bays if span.start and bay[span.start - 1].lower() == letter.lower()]
    empty = [bay for bay in bays if all(bay[slot] == EMPTY for slot in span)]
    return (was or empty or bays or [[EMPTY] * span.stop])[0]


def _months(problem: Problem) -> str:
    """A ruler with the day of the month at each Monday or first day, where there is room for it."""
    ruler = [" "] * (len(problem.days) + 4)
    free = 0
    for slot, day in enumerate(problem.days):
        text = f"{day.day}{day:%b}"
        if (slot == 0 or day.day <= 3 or day.weekday() == 0) and slot >= free:
            ruler[slot : slot + len(text)] = text
            free = slot + len(text) + 1
    return "".join(ruler).rstrip()


def _boats(problem: Problem, schedule: Schedule, letters: dict[str, str]) -> Iterator[str]:
    for job in problem.jobs:
        name = f"{letters[job.id]}  {job.label or job.id}"
        if job.id in schedule.unplaced:
            out = schedule.unplaced[job.id]
            yield f"{name}: left out ({out.rule}): {out.says}"
        elif schedule.jobs.get(job.id):
            times = schedule.jobs[job.id]
            start, end = times[0].start, times[-1].end
            begins = first_day(problem.days, start).isoformat() if start >= 0 else "begun"
            ends = last_day(problem.days, end) if end >= 1 else None
            late = f", {(ends - job.due).days} days late" if ends and ends > job.due else ""
            yield f"{name}: {begins} to {ends.isoformat() if ends else 'done'}{late}"
