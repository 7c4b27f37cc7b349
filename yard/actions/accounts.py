"""Accounts of a sample yard, for whoever wants to look round in it."""

import secrets

from django.db import transaction

from yard.actions.base import Refused
from yard.models import Membership, Person, Role, User, Yard

SYLLABLES = [first + vowel for first in "bdfgklmnprstvz" for vowel in "aeiou"]


def password_made_now() -> str:
    """Eight syllables and two figures, easily typed from a screen: 55 bits."""
    words = ["".join(secrets.choice(SYLLABLES) for _ in range(2)) for _ in range(4)]
    return "-".join([*words, f"{secrets.randbelow(100):02}"])


@transaction.atomic
def make_sample_accounts(yard: Yard) -> dict[str, tuple[str, str]]:
    """One account a role, with a password made now: {role: (name, password)}. Only the hash is kept.

    Accounts that are there get new passwords, which also ends their sessions. The crew account stands for the
    first of the yard's people.

    Raises:
        Refused: for a yard that is no sample, or if somebody else has the name.
    """
    if not yard.is_sample:
        raise Refused("Accounts are made at once for a sample yard only.")
    made = {}
    for role in Role.values:
        name, password = f"{role}", password_made_now()
        user = User.objects.filter(username__iexact=name).first() or User(username=name)
        if user.pk and user.memberships.exclude(yard=yard).exists():
            raise Refused(f"The account {name} belongs to another yard.")
        user.set_password(password)
        user.save()
        membership = Membership.objects.filter(yard=yard, user=user, ended_on=None).first()
        if membership is None:
            membership = Membership(yard=yard, user=user, role=role)
        if role == Role.CREW and membership.person is None:
            membership.person = Person.objects.filter(
                yard=yard, retired_on=None, memberships__isnull=True
            ).first()
        membership.role = role
        membership.save()
        made[role] = (name, password)
    return made
