"""The manager presses the button of a real site: web server, worker, engine."""

from __future__ import annotations

import re
from typing import Any

import pytest

from tests.cast import PASSWORD, TODAY
from tests.served import Site

ACCOUNT_AND_EIGHT_BOATS_MORE = f"""
from datetime import date
from yard.actions.boats import save_boat
from yard.actions.treatments import open_treatment
from yard.models import Boat, Membership, Owner, Scheme, Season, User, Yard
from yard.roles import actor_for
yard = Yard.objects.get()
user = User.objects.create_user("manager", password={PASSWORD!r})
Membership.objects.create(user=user, yard=yard, role="manager")
who = actor_for(user, yard.slug)
for number in range(8):
    boat = Boat.objects.create(yard=yard, owner=Owner.objects.first(), name=f"Late {{number}}", length_m=8,
        beam_m=2.7, draught_m=1.2, stand_height_m=3, displacement_t=3)
    open_treatment(who, boat=boat, scheme=Scheme.objects.get(name="lay-up"), season=Season.objects.get(),
        arrives_on=date(2026, 12, 14), wanted_on=date(2027, 5, 28))
"""


@pytest.mark.moment(4)
def test_pack_40_boats_see_it_come_leave_and_come_back_to_a_draft_that_nobody_else_sees_yet(
    page: Any, served: Site
) -> None:
    from playwright.sync_api import expect

    served.environment["SHEDTIDE_TODAY"] = TODAY.isoformat()
    for command in (("importyard", "demo"), ("shell", "-c", ACCOUNT_AND_EIGHT_BOATS_MORE)):
        done = served.manage(*command)
        assert done.returncode == 0, done.stderr
    site = served.start_web()
    served.start_worker()
    page.goto(f"{site}/login/")
    page.get_by_label("Name").fill("manager")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Log in").click()
    page.get_by_text("40 boats wait for a place.").wait_for()
    page.get_by_role("button", name="Pack the sheds").first.click()

    progress = page.locator("#pack")
    expect(progress.locator("progress")).to_have_text(re.compile(r"\d+ %"))
    expect(progress).to_contain_text(re.compile(r"best so far\s*£[\d,]+"), timeout=30_000)
    page.get_by_role("link", name="Today").click()
    page.get_by_text("No plan is posted yet").wait_for()
    page.get_by_role("link", name="Wall").click()

    expect(page.get_by_role("heading", name="This draft")).to_be_visible(timeout=60_000)
    assert re.search(r"Draft 1, not posted\. \d+ of 40 boats keep their day", page.inner_text("main"))
    page.get_by_role("link", name="Today").click()
    assert "No plan is posted yet" in page.inner_text("main")
