"""People: who may log in, who works in the yard, what they can do and how long."""

from typing import ClassVar

from django.contrib.auth.models import AbstractUser
from django.contrib.auth.models import UserManager as PlainUserManager
from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from yard.models.base import HOURS, Named, Record, Retiring, Versioned, YardRecord, between, known, once


class UserManager(PlainUserManager["User"]):
    """Finds an account by its name in any case: phones like to write the first letter large."""

    def get_by_natural_key(self, username: str | None) -> "User":
        """The account of this name, whatever the case."""
        return self.get(username__iexact=username)


class User(AbstractUser):
    """Somebody who can log in.

    What they may do stands in `Membership`. Never deleted: `is_active` ends it.
    """

    phone = models.CharField(max_length=40, blank=True)

    objects: ClassVar[UserManager] = UserManager()

    class Meta(AbstractUser.Meta):
        constraints = [
            once(
                Lower("username"),
                name="one_account_of_a_name_in_any_case",
                says="There is an account of that name already.",
            ),
        ]


class Skill(YardRecord, Named, Retiring):
    """Something that only some people can do."""

    class Meta:
        ordering = ["name"]
        constraints = [
            once(
                "yard",
                Lower("name"),
                name="one_skill_of_a_name_a_yard",
                says="There is a skill of that name already.",
            ),
        ]


class Person(YardRecord, Named, Versioned, Retiring):
    """Somebody who works on boats, with or without an account."""

    job = models.CharField(max_length=80, blank=True)
    phone = models.CharField(max_length=40, blank=True)
    under_18 = models.BooleanField(default=False)
    opted_out_48h = models.BooleanField(default=False)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["name"]
        verbose_name_plural = "people"
        constraints = [
            once(
                "yard",
                Lower("name"),
                name="one_person_of_a_name_a_yard",
                says="There is a person of that name already.",
            ),
        ]


class PersonSkill(Record):
    """One person has one skill."""

    yard_path = "person__yard"

    person = models.ForeignKey(Person, models.CASCADE, related_name="skills")
    skill = models.ForeignKey(Skill, models.PROTECT, related_name="people")

    class Meta:
        constraints = [
            once("person", "skill", name="a_skill_once_a_person", says="The person has that skill already."),
        ]


class WorkingWeek(Record):
    """Hours a person works on one weekday from a day on, until a later row says otherwise. Monday is 0."""

    yard_path = "person__yard"

    person = models.ForeignKey(Person, models.CASCADE, related_name="week")
    from_on = models.DateField()
    weekday = models.PositiveSmallIntegerField()
    hours = models.DecimalField(**HOURS)

    class Meta:
        ordering = ["person", "from_on", "weekday"]
        constraints = [
            once(
                "person",
                "from_on",
                "weekday",
                name="one_figure_a_person_and_weekday",
                says="That weekday is given twice for the person.",
            ),
            *between(0, 6, "weekday"),
            *between(0, 24, "hours"),
        ]


class Role(models.TextChoices):
    """What an account may do in a yard."""

    MANAGER = "manager"
    CREW = "crew"
    OFFICE = "office"


class Membership(YardRecord):
    """An account's role in one yard, and the person it stands for. The only thing the guards read."""

    user = models.ForeignKey(User, models.PROTECT, related_name="memberships")
    role = models.CharField(max_length=10, choices=Role.choices)
    person = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="memberships")
    ended_on = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [
            known("role", Role),
            once(
                "yard",
                "user",
                when=Q(ended_on__isnull=True),
                name="one_open_membership_a_user_and_yard",
                says="The account has a role in this yard already.",
            ),
            once(
                "person",
                when=Q(ended_on__isnull=True, person__isnull=False),
                name="one_open_membership_a_person",
                says="The person has an account already.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.user} as {self.role}"
