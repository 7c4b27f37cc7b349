"""A blocking job shop as nothing but a choice for each pair of operations on one machine: which goes first.

A machine is let go when the job's next operation starts, so "a before b" is one inequality of two starts, and
swaps are operations that start together. CP-SAT has a variable an operation and a literal a pair. Intervals
that may not overlap gain nothing beside the literals (la17, la18, three seeds each: sometimes faster, in all
slower); without the literals one seed took 32 s of la17 instead of 5, another had not found it after 40.
"""

from itertools import combinations

from scheduling.engine.published import Answer, JobShop

Starts = list[list[int]]
"""When each operation starts, by job [shop's unit of time]."""


def settle(shop: JobShop, makespan: int, seconds: float, seed: int = 1) -> tuple[Answer, Starts | None]:
    """Whether all jobs fit into a makespan, and how; `seconds` [s] are the clock's.

    To ask for one makespan is surer than to ask for the shortest, which was not found for abz5. One worker:
    two or eight were faster on some shops, slower on others, and took more of the processor on most (one
    seed). No linear relaxation.
    """
    from ortools.sat.python import cp_model  # noqa: PLC0415 it takes a second to load

    model = cp_model.CpModel()
    starts = [
        [model.new_int_var(0, makespan, f"j{j} s{i}") for i in range(len(job))]
        for j, job in enumerate(shop.jobs)
    ]
    stays: dict[int, list[tuple[cp_model.IntVar, cp_model.LinearExprT]]] = {}  # by machine: start, let go
    for job, begins in zip(shop.jobs, starts, strict=True):
        leaves: list[cp_model.LinearExprT] = [*begins[1:], begins[-1] + job[-1][1]]
        for (machine, length), begin, gone in zip(job, begins, leaves, strict=True):
            model.add(begin + length <= gone)
            stays.setdefault(machine, []).append((begin, gone))
        model.add(leaves[-1] <= makespan)
    for machine, on in stays.items():
        for n, ((begin, gone), (other, other_gone)) in enumerate(combinations(on, 2)):
            first = model.new_bool_var(f"m{machine} pair {n}")
            model.add(gone <= other).only_enforce_if(first)
            model.add(other_gone <= begin).only_enforce_if(~first)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.linearization_level = 0
    solver.parameters.random_seed = seed
    solver.parameters.max_time_in_seconds = seconds
    status = solver.solve(model)
    if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return "fits", [[solver.value(start) for start in begins] for begins in starts]
    return ("does not fit" if status == cp_model.INFEASIBLE else "open"), None
