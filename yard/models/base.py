"""What all records share: the yard they belong to, versions, retirement, and rows that are written once."""

from typing import TYPE_CHECKING, Any, ClassVar, Self, TypeVar

from django.db import models
from django.db.models import Q

if TYPE_CHECKING:
    from yard.models.yards import Yard

METRES: dict[str, Any] = {"max_digits": 7, "decimal_places": 3}
"""A length as a person types it [m]; three places keep a whole inch."""
TONNES: dict[str, Any] = {"max_digits": 7, "decimal_places": 3}
"""A load or a displacement [t]."""
SQUARE_METRES: dict[str, Any] = {"max_digits": 7, "decimal_places": 2}
"""An area of hull [m2]."""
CELSIUS: dict[str, Any] = {"max_digits": 5, "decimal_places": 1}
"""A temperature [degrees C]."""
PERCENT: dict[str, Any] = {"max_digits": 5, "decimal_places": 1}
"""A share or a humidity [%]."""
HOURS: dict[str, Any] = {"max_digits": 7, "decimal_places": 2}
"""Hours of work or of waiting [h]."""
DAYS: dict[str, Any] = {"max_digits": 6, "decimal_places": 2}
"""A length of time in days [d]; half days are real."""
KILOWATTS: dict[str, Any] = {"max_digits": 6, "decimal_places": 2}
"""Electric power [kW]."""
MONEY: dict[str, Any] = {"max_digits": 10, "decimal_places": 2}
"""An amount in the yard's one currency."""


class WrittenOnceError(TypeError):
    """Somebody tried to change or delete a row that is only ever added to."""


R = TypeVar("R", bound="Record", covariant=True)


class InYard(models.QuerySet[R]):
    """Rows of records that belong to a yard."""

    def of(self, yard: "Yard") -> Self:
        """Only the rows of this yard."""
        return self.filter(**{self.model.yard_path: yard})


class Record(models.Model):
    """A row that belongs to one yard, by a key of its own or through a parent (`yard_path`)."""

    yard_path: ClassVar[str] = "yard"

    said = ""
    """What an action adds for the person who asked, in a sentence. Never stored."""

    objects = InYard.as_manager()

    class Meta:
        abstract = True

    def __str__(self) -> str:
        return getattr(self, "name", "") or f"{self._meta.verbose_name} {self.pk}"

    def home(self) -> "Yard":
        """The yard this row belongs to, found along `yard_path`."""
        found: Any = self
        for step in self.yard_path.split("__"):
            found = getattr(found, step)
        yard: Yard = found
        return yard


class YardRecord(Record):
    """A record with a yard key of its own."""

    yard = models.ForeignKey("yard.Yard", models.PROTECT, related_name="+")

    class Meta:
        abstract = True


class Named(models.Model):
    """A record known by its name."""

    name = models.CharField(max_length=80)

    class Meta:
        abstract = True

    def __str__(self) -> str:
        return self.name


class Versioned(models.Model):
    """A record that two people may edit; the second to save an old version is told, not obeyed."""

    version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        abstract = True


class Retiring(models.Model):
    """A record that is retired on a day, never deleted, once anything points at it."""

    retired_on = models.DateField(null=True, blank=True)

    class Meta:
        abstract = True


Kept = TypeVar("Kept", bound="AppendOnly", covariant=True)


class Once(InYard[Kept]):
    """Rows that are added and never changed, but for the fields in `may_change`."""

    def update(self, **fields: Any) -> int:
        """Change only what the record allows.

        Raises:
            WrittenOnceError: for any other field.
        """
        refuse_change(self.model, fields)
        return super().update(**fields)

    def delete(self) -> tuple[int, dict[str, int]]:
        """Delete rows, where the record may die at all.

        Raises:
            WrittenOnceError: where it may not.
        """
        if not self.model.may_die:
            raise WrittenOnceError(f"{self.model._meta.verbose_name} rows are never deleted.")
        return super().delete()


class AppendOnly(Record):
    """A row written once. A correction is a new row."""

    may_change: ClassVar[frozenset[str]] = frozenset()
    may_die: ClassVar[bool] = False

    objects = Once.as_manager()  # type: ignore[misc]  # a made manager cannot be marked ClassVar

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Add the row; a row that is there already changes only in `may_change`.

        Raises:
            WrittenOnceError: for any other change.
        """
        if not self._state.adding:
            names = kwargs.get("update_fields")
            refuse_change(type(self), [f.name for f in self._meta.fields] if names is None else names)
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        """Delete the row, where it may die at all.

        Raises:
            WrittenOnceError: where it may not.
        """
        if not self.may_die:
            raise WrittenOnceError(f"{self._meta.verbose_name} rows are never deleted.")
        return super().delete(*args, **kwargs)


class Fact(AppendOnly):
    """Something measured, done or said. A correction replaces the row and marks the old one superseded."""

    may_change = frozenset({"superseded"})

    replaces = models.OneToOneField("self", models.PROTECT, null=True, blank=True, related_name="replaced_by")
    superseded = models.BooleanField(default=False, editable=False)

    class Meta:
        abstract = True


def refuse_change(model: type[AppendOnly], names: Any) -> None:
    """Raise `WrittenOnceError` if a name is not among those the record may change."""
    allowed = {model._meta.get_field(name).name for name in model.may_change}
    asked = {model._meta.get_field(name).name for name in names}
    if asked - allowed:
        raise WrittenOnceError(
            f"{model._meta.verbose_name} rows are written once; not: {sorted(asked - allowed)}."
        )


def known(field: str, choices: type[models.TextChoices], *, blank: bool = False) -> models.CheckConstraint:
    """The database, too, refuses a word that is not one of the choices."""
    words = [*choices.values, ""] if blank else list(choices.values)
    return models.CheckConstraint(
        condition=Q(**{f"{field}__in": words}),
        name=f"%(class)s_{field}_is_a_known_word",
        violation_error_message=f"Choose one of these for {field}: {', '.join(choices.values)}.",
    )


def above_zero(*fields: str) -> list[models.CheckConstraint]:
    """Each field is more than nothing; an empty one passes where the field allows it."""
    return [
        models.CheckConstraint(
            condition=Q(**{f"{field}__gt": 0}),
            name=f"%(class)s_{field}_is_above_zero",
            violation_error_message=f"{_spoken(field)} must be more than 0.",
        )
        for field in fields
    ]


def not_below_zero(*fields: str) -> list[models.CheckConstraint]:
    """Each field is nothing or more."""
    return between(0, None, *fields)


def between(low: float | None, high: float | None, *fields: str) -> list[models.CheckConstraint]:
    """Each field lies between two figures, both included; None leaves that side open."""
    rules = []
    for field in fields:
        condition = Q()
        if low is not None:
            condition &= Q(**{f"{field}__gte": low})
        if high is not None:
            condition &= Q(**{f"{field}__lte": high})
        limits = f"{low} or more" if high is None else f"between {low} and {high}"
        rules.append(
            models.CheckConstraint(
                condition=condition,
                name=f"%(class)s_{field}_is_in_range",
                violation_error_message=f"{_spoken(field)} must be {limits}.",
            )
        )
    return rules


def in_order(early: str, late: str, *, strict: bool = False) -> models.CheckConstraint:
    """One field is not after another; an open end passes."""
    return models.CheckConstraint(
        condition=Q(**{f"{late}__{'gt' if strict else 'gte'}": models.F(early)}),
        name=f"%(class)s_{late}_is_not_before_{early}",
        violation_error_message=f"{_spoken(late)} must {'come after' if strict else 'not come before'} "
        f"{_spoken(early).lower()}.",
    )


def once(*fields: Any, name: str, says: str, when: Q | None = None) -> models.UniqueConstraint:
    """No two rows share these fields (or expressions), where `when` holds.

    Args:
        name: the rule as a name, unique in the package.
        says: the rule in the user's words.
    """
    if all(isinstance(f, str) for f in fields):
        return models.UniqueConstraint(fields=fields, condition=when, name=name, violation_error_message=says)
    parts = [models.F(f) if isinstance(f, str) else f for f in fields]
    return models.UniqueConstraint(*parts, condition=when, name=name, violation_error_message=says)


def check(condition: Any, *, name: str, says: str) -> models.CheckConstraint:
    """A rule of one row, with its sentence."""
    return models.CheckConstraint(condition=condition, name=name, violation_error_message=says)


def _spoken(field: str) -> str:
    """A field's name as a person reads it, with its unit in brackets: 'Length [m]'."""
    # Django fills "%(name)s" into these sentences, so a plain per cent sign is doubled.
    units = {
        "m": "m",
        "t": "t",
        "c": "°C",
        "h": "h",
        "pct": "%%",
        "m2": "m2",
        "kw": "kW",
        "d": "days",
        "kn": "kn",
        "kj": "kJ/mol",
        "um": "µm",
    }
    if field.endswith("_20"):  # hours as they would be at 20 °C
        return f"{_spoken(field.removesuffix('_20'))} at 20 °C"
    head, _, tail = field.rpartition("_")
    if head and tail in units:
        return f"{head.replace('_', ' ').capitalize()} [{units[tail]}]"
    return field.replace("_money", "").replace("_on", "").replace("_", " ").capitalize()
