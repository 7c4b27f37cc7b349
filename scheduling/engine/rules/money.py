"""The cost, one function a kind. Broken windows come with the modes, shunts and swaps with their rules.

Terms are bound from below only, since the total is made small; `cost.cost_of` says what a schedule costs.
"""

from collections.abc import Callable

from scheduling.engine.cost import late_row
from scheduling.engine.rules.frame import Choice, Expr, FreeJob, Lit, Model


def late(model: Model) -> None:
    """Late days of placed jobs, from a table of the end."""
    for free in model.jobs:
        row = late_row(model.problem, free.job)
        if any(row):
            _at_least(
                model, "late", free, [(1, free.placed)], model.look_up(free.pieces[-1].end, row), max(row)
            )


def moves(model: Model) -> None:
    """Relocations; the first piece comes without one."""
    for free in model.jobs:
        for piece in free.pieces[1:]:
            model.pay("moves", free, model.problem.move_price * piece.moved)


def places(model: Model) -> None:
    """The days that a boat stands in a place."""
    _by_day(model, "places", lambda choice: choice.place.price)


def heat(model: Model) -> None:
    """The days that she stands in a step, and the rigs set up round her."""
    _by_day(model, "heat", lambda choice: choice.option.stand_price)
    for free in model.jobs:
        for before, piece in zip([None, *free.pieces], free.pieces, strict=False):
            for choice in piece.choices if not piece.begun else ():
                if choice.option.rig is None or not choice.option.rig_price:
                    continue
                set_up = model.new_lit()
                before_her = before.choices if before else []
                up = [other.lit for other in before_her if _same_rig(other, choice)]
                model.need(set_up >= choice.lit - sum(up))
                model.pay("heat", free, choice.option.rig_price * set_up)


def _same_rig(one: Choice, other: Choice) -> bool:
    return one.place.id == other.place.id and one.option.rig == other.option.rig


def extra(model: Model) -> None:
    """The price of each option taken."""
    for free in model.jobs:
        for piece in free.pieces:
            for price, lit in model.amounts(piece, lambda choice: choice.option.price):
                if not piece.begun:
                    model.pay("extra", free, price * lit)


def changes(model: Model) -> None:
    """Each step of a placed job that is not where and when it is posted."""
    for free in model.jobs:
        for piece in free.pieces:
            if piece.step is not None and piece.step.posted is not None and model.problem.change_price:
                kept = model.new_lit()
                model.cp.add_implication(kept, model.at(piece, piece.step.posted.place))
                model.need(piece.start == piece.step.posted.start, kept)
                model.pay("changes", free, model.problem.change_price * (free.placed - kept))


def left_out(model: Model) -> None:
    """The price of each job left out."""
    for free in model.jobs:
        model.pay("left_out", free, free.job.drop_price * (1 - free.placed))


def _by_day(model: Model, kind: str, of: Callable[[Choice], int]) -> None:
    """A rate for each calendar day of the slots in which a piece stands."""
    for free in model.jobs:
        for piece in free.pieces:
            rates: list[tuple[int, Lit]] = list(model.amounts(piece, of))
            if not rates:
                continue
            if piece.begun:
                rates = [(rate, free.placed) for rate, _ in rates]
            elif low := min(of(choice) for choice in piece.choices):
                rates.append((low, free.placed))  # true anyway, and known before a choice is made
            until, since = (
                model.look_up(piece.leaves, model.day_sums),
                model.look_up(piece.start, model.day_sums),
            )
            _at_least(model, kind, free, rates, until - since, model.day_sums[-1])


def _at_least(
    model: Model, kind: str, free: FreeJob, rates: list[tuple[int, Lit]], what: Expr, most: int
) -> None:
    """A cost of at least the rate times `what`, for each rate whose literal holds."""
    cost = model.new_int(0, most * max(rate for rate, _ in rates))
    for rate, lit in rates:
        model.need(cost >= rate * what, lit)
    model.pay(kind, free, cost)
