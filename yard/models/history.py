"""What came in from phones, and the one history of every change."""

from django.db import models

from yard.models.base import AppendOnly, YardRecord, once
from yard.models.people import User


class Delivery(models.Model):
    """One entry sent under a key of the sender's making, with the answer it got: the same key is never done
    twice.
    """

    user = models.ForeignKey(User, models.PROTECT, related_name="+")
    key = models.UUIDField()
    action = models.CharField(max_length=60)
    body_sha256 = models.CharField(max_length=64)
    answer = models.JSONField()
    taken_at = models.DateTimeField(null=True, blank=True)
    received_at = models.DateTimeField()

    class Meta:
        verbose_name_plural = "deliveries"
        constraints = [
            once(
                "user", "key", name="a_delivery_once_a_user_and_key", says="That entry has come in already."
            ),
        ]

    def __str__(self) -> str:
        return f"{self.action} {self.key}"


class Entry(AppendOnly, YardRecord):
    """One change: by whom, what, to which record, what it was before and is after.

    There is no other history.
    """

    at = models.DateTimeField()
    user = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")
    action = models.CharField(max_length=60)
    about_label = models.CharField(max_length=60)
    about_pk = models.BigIntegerField(null=True, blank=True)
    before = models.JSONField(null=True, blank=True)
    after = models.JSONField(null=True, blank=True)
    why = models.CharField(max_length=200, blank=True)
    # Deliveries are kept for a while only; the history outlives them.
    delivery = models.ForeignKey(Delivery, models.SET_NULL, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["-at", "-id"]
        verbose_name_plural = "entries"
        indexes = [models.Index(fields=["yard", "about_label", "about_pk"], name="entry_yard_about")]
