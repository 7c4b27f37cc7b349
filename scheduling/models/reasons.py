"""Why a plan has one boat when it has her, as it was found when the plan was made."""

from django.db import models

from scheduling.models.plans import Plan
from yard.models import Treatment
from yard.models.base import AppendOnly, once


class Reasons(AppendOnly):
    """Why none of one boat's planned stages starts a day earlier, and if she is late or left out, since when.

    `stages` has one entry for each reason of each planned stage; several of one stage bind together. `chain`
    goes from her last stage back to a fact or the first day, through other boats where they are the reason.
    An entry is {"treatment", "stage", "part": whose stage it is, "rule", "kind": what binds, "says": words,
    "whom": who is waited for, not for everybody's eyes, "start": the day she does not start on, "until": the
    day until which it binds, null beyond the season, "by": the other treatment that has it or null, "about"
    and "pks": the records that would have to change}. Dies with its plan.
    """

    yard_path = "plan__yard"

    plan = models.ForeignKey(Plan, models.CASCADE, related_name="reasons")
    treatment = models.ForeignKey(Treatment, models.PROTECT, related_name="+")
    stages = models.JSONField(default=list, blank=True)
    chain = models.JSONField(default=list, blank=True)

    class Meta:
        ordering = ["plan", "treatment"]
        verbose_name_plural = "reasons"
        constraints = [
            once(
                "plan",
                "treatment",
                name="reasons_of_a_boat_once_a_plan",
                says="Her reasons are stored already.",
            ),
        ]

    def __str__(self) -> str:
        return f"reasons of {self.treatment_id} in {self.plan_id}"
