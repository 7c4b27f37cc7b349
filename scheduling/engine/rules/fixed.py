"""Jobs that are not free: their pieces in plain numbers, as the rules of the model need them."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from scheduling.engine.problem import Job, Option, Place
from scheduling.engine.schedule import StepTime


@dataclass(frozen=True, slots=True, eq=False)
class Fixed:
    """A piece of a job that stays as it is, in plain numbers."""

    job: Job
    step: str
    option: Option
    place: Place
    start: int
    end: int
    leaves: int
    lets_go: int  # until then it holds
    begun: bool
    comes: bool  # the stay begins with it, after the axis has started
    came_from: str | None  # ... there
    goes: bool  # the stay ends with it
    stands_on: bool  # part of the stay that had begun


def fixed_pieces(
    places: Mapping[str, Place], job: Job, times: Sequence[StepTime] | None, slots: int
) -> Iterator[Fixed]:
    """The pieces of a job that stays as it is; left out (`times` is None) only what has begun stands."""
    if times is None:
        if job.begun is not None:
            begun, place = job.begun, places[job.begun.place]
            yield Fixed(job, begun.step, begun.option, place, -1, begun.end, slots, begun.end,
                        begun=True, comes=False, came_from=None, goes=True, stands_on=True)  # fmt: skip
        return
    options = {step.id: step.options for step in job.steps}
    stands_on = job.begun is not None
    for i, time in enumerate(times):
        before = times[i - 1].place if i else None
        after = times[i + 1].place if i + 1 < len(times) else None
        stands_on = stands_on and before in (None, time.place)
        begun_here = job.begun if time.option < 0 else None
        option = begun_here.option if begun_here else options[time.step][time.option]
        yield Fixed(
            job, time.step, option, places[time.place], time.start, time.end, time.leaves, time.leaves,
            begun=begun_here is not None, comes=begun_here is None and before != time.place,
            came_from=before, goes=after != time.place, stands_on=stands_on,
        )  # fmt: skip
