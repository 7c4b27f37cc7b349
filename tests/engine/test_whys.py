"""Why a stage does not start a slot earlier: told rule by rule, and true: without that reason it could."""

from __future__ import annotations

from collections import Counter
from itertools import groupby

from scheduling.engine.improve import first_plan
from scheduling.engine.insertion import compile_problem
from scheduling.engine.problem import Problem
from scheduling.engine.schedule import Schedule
from scheduling.engine.whys import whys
from scheduling.engine.witness import check, cost
from tests.engine.lifting import lift, wished
from tests.engine.random_yards import random_problem


def sound(told: Problem, schedule: Schedule) -> bool:
    return not [b for b in check(told, schedule) if not b.fact]


def test_without_its_reasons_and_with_no_fewer_a_stage_can_start_a_slot_earlier() -> None:
    tried: Counter[str] = Counter()
    for seed in range(40):
        told = random_problem(seed, jobs=5, slots=24, places=4)
        schedule = first_plan(compile_problem(told)).schedule()
        total = sum(cost(told, schedule).values())
        found = whys(told, schedule)
        steps = sum(1 for times in schedule.jobs.values() for t in times if t.option >= 0)
        assert len({(why.job, why.step) for why in found}) == steps
        for _, group in groupby(found, key=lambda why: (why.job, why.step)):
            reasons = sorted(group, key=lambda why: why.kind == "job")  # a boat gone frees all she has
            time = next(t for t in schedule.jobs[reasons[0].job] if t.step == reasons[0].step)
            start = time.start - 1
            if start < 0:
                assert [why.kind for why in reasons] == ["today"]
                continue
            _, earlier = wished(told, schedule, reasons[0], start)
            if reasons[0].rule == "cost":
                assert sound(told, earlier), (seed, reasons)
                more = sum(cost(told, earlier).values()) - total
                assert more == reasons[0].amount
                assert (more > 0) == (reasons[0].kind != "free")
                tried[reasons[0].kind] += 1
                continue
            assert not sound(told, earlier), (seed, reasons)
            if reasons[0].kind == "begun":
                continue
            yard, plan, gone = told, earlier, set()
            for i, why in enumerate(reasons):
                gone.add(why.who if why.kind == "job" else "")
                if why.kind == "job" and why.who not in {job.id for job in yard.jobs}:
                    continue
                done = lift(yard, plan, why, start)
                if done is None:
                    break
                yard, plan = done
                others = [w for w in reasons[i + 1 :] if w.kind != "job" or w.who not in gone]
                assert sound(yard, plan) == (not others), (seed, reasons, i, check(yard, plan))
            else:
                tried.update(why.kind for why in reasons)
    assert len(tried) > 8  # kinds of reasons
