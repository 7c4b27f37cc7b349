"""The import as one action: everything in the folder, or nothing and a list of all that is wrong."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import cast

from django.db import transaction
from django.utils.text import slugify

from yard.actions.base import NotAllowed, Refused, action, log
from yard.actions.importing.columns import BY_NAME, FILES
from yard.actions.importing.read import Fault, Faults, Sheet, read_folder
from yard.actions.importing.special import AFTER, PREPARE, WHOLE
from yard.actions.importing.special_winter import late_starts
from yard.actions.importing.store import Count, Store
from yard.models import Membership, Role, User, Yard, YardSettings
from yard.roles import Actor, actor_for, yard_today


class Faulty(Refused):  # what happened, in the yard's words
    """The folder cannot be taken; `faults` says all that is wrong with it."""

    def __init__(self, faults: list[Fault]) -> None:
        self.faults = faults
        super().__init__("\n".join(str(fault) for fault in faults))


@dataclass(frozen=True)
class Import:
    """What an import did: rows added, same and changed by file, and what a person may want to know."""

    yard: Yard
    files: dict[str, Count]
    notes: tuple[str, ...]
    dry_run: bool

    @property
    def changes(self) -> int:
        """How many rows were added or changed."""
        return sum(count.added + count.changed for count in self.files.values())


def bring_yard(
    folder: Path, *, username: str | None = None, sample: bool = False, dry_run: bool = False
) -> Import:
    """Import a folder into the yard that its yard.csv names; a yard that is not there yet is made.

    Args:
        username: the account that imports. It must be a manager of the yard, and becomes one of a new yard.
            None stands for whoever runs the machine.
        sample: a new yard is a sample, which may be removed whole; one that is there stays what it is.
        dry_run: look, say what would happen, and leave everything as it was.

    Raises:
        Faulty: with every fault in the folder.
        Refused: if there is no such folder or account.
        NotAllowed: if the account is no manager of the yard.
    """
    if not folder.is_dir():
        raise Refused(
            f"There is no folder {folder}; write the path of the folder that holds yard.csv.", "folder"
        )
    user = User.objects.filter(username__iexact=username).first() if username else None
    if username and user is None:
        raise Refused(f"There is no account “{username}”; make it first, or leave --as out.", "username")
    faults = Faults()
    sheets = read_folder(folder, faults)
    name, slug = _yard_of(sheets, faults)
    with transaction.atomic():
        yard = Yard.objects.filter(slug=slug).first()
        new = yard is None
        if yard is None:
            yard = Yard.objects.create(name=name, slug=slug, is_sample=sample)
            YardSettings.objects.create(yard=yard)
            if user:
                Membership.objects.create(yard=yard, user=user, role=Role.MANAGER)
        if user is None:
            # Nobody's account: whoever runs the machine may do what a manager may; history names nobody.
            who = Actor(cast(User, None), yard, Role.MANAGER, None, yard_today(yard))
        elif (found := actor_for(user, slug)) is None:
            raise NotAllowed(f"{user.username} has no role in {yard.name}.")
        else:
            who = found
        done = import_yard(who, folder=folder, dry_run=dry_run)
        if new:
            done.files["yard.csv"] = Count(added=1)
        if dry_run:
            transaction.set_rollback(True)
    return done


@action(Role.MANAGER)
def import_yard(who: Actor, *, folder: Path, dry_run: bool = False) -> Import:
    """Bring everything in a folder of files into the actor's yard, or nothing.

    Rows are matched by the columns that tell them apart; what is stored and not in the folder stays as it is,
    but for what is replaced whole (a stage's demands, a year's tides, a person's skills).

    Raises:
        Faulty: with every fault in the folder, by file, row and column.
    """
    faults = Faults()
    sheets = read_folder(folder, faults)
    _, slug = _yard_of(sheets, faults)
    if slug and slug != who.yard.slug:
        faults.append(
            Fault(
                "yard.csv",
                None,
                "slug",
                f"This is the folder of the yard “{slug}”; you are in “{who.yard.slug}”.",
            )
        )
        raise Faulty(faults)
    store = Store(who, sheets, faults)
    store.run(WHOLE, PREPARE, AFTER)
    if faults:
        raise Faulty(_in_order(faults))
    done = Import(who.yard, dict(store.counts), (*store.notes, *late_starts(store)), dry_run)
    if done.changes:
        counts = {
            name: {"added": c.added, "changed": c.changed}
            for name, c in done.files.items()
            if c.added or c.changed
        }
        log(who, who.yard, after=counts)
    if dry_run:
        transaction.set_rollback(True)
    return done


def _yard_of(sheets: dict[str, Sheet | None], faults: Faults) -> tuple[str, str]:
    """The name and slug that yard.csv gives.

    Raises:
        Faulty: where there is no such file, or it does not say.
    """
    sheet = sheets.get("yard.csv")
    if "yard.csv" not in sheets:
        faults.append(Fault("yard.csv", None, "", "The file is missing; it says which yard this is."))
    texts = {name: text for row in sheet.rows for name, text in row.texts.items()} if sheet else {}
    name, slug = texts.get("name", ""), texts.get("slug", "")
    if sheet:
        if slug and slugify(slug) != slug:
            faults.append(
                Fault(
                    "yard.csv",
                    None,
                    "slug",
                    f"“{slug}” can't stand in an address; write it like {slugify(slug)}.",
                )
            )
        for column, text in (("name", name), ("slug", slug)):
            if not text and column in sheet.columns:
                faults.append(Fault("yard.csv", None, column, "The cell is empty; every yard needs one."))
    if not name or not slug or slugify(slug) != slug:
        raise Faulty(_in_order(faults))
    return name, slug


def _in_order(faults: list[Fault]) -> list[Fault]:
    """Faults by file in the table's order, then by row; the same one once."""
    known = [file.name for file in FILES]
    order = {
        fault: (known.index(fault.file) if fault.file in BY_NAME else -1, fault.row or 0) for fault in faults
    }
    return sorted(order, key=order.__getitem__)
