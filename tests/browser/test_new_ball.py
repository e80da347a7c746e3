"""The operator finds a new ball for a gap, on a phone and at a desk."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from clients import jobs
from clients.models import Job
from lanes.models import NewBallPlan
from tests.new_ball.conftest import bag, made, plan_data  # noqa: F401 - fixtures


@pytest.fixture
def shop(transactional_db, bag):  # noqa: F811
    return bag


@pytest.mark.parametrize("where", ["phone", "desk"])
def test_every_state_is_accessible(where, request, shop, log_in, axe, shoot):
    page = request.getfixturevalue(where)
    log_in(page, shop.otto)
    address = reverse("lanes:new_ball", args=[shop.sam_client.pk])
    page.goto(address)
    axe(page)
    shoot(page, "new_ball_none_yet")
    for name, clear, stock in (("hold", False, 8), ("buy", True, 8), ("no_stock", False, 0)):
        NewBallPlan.objects.all().delete()
        NewBallPlan.objects.create(
            client=shop.sam_client,
            version="1",
            input_hash="made up",
            data=plan_data(shop.ball, clear=clear, in_stock=stock),
            by=shop.otto,
        )
        page.goto(address)
        axe(page)
        shoot(page, f"new_ball_{name}")
    page.goto(reverse("lanes:new_ball", args=[shop.wendy_client.pk]))
    axe(page)
    shoot(page, "new_ball_too_little")


def test_otto_finds_a_new_ball_for_a_gap(desk, shop, log_in, axe, shoot):
    """The main path, with the worker's job done in between as the worker does it."""
    log_in(desk, shop.otto)
    desk.goto(reverse("clients:gear"))
    desk.get_by_role("link", name=re.compile("New ball.*Plan for Sam")).click()
    desk.get_by_role("button", name="Work it out").click()
    expect(desk.get_by_text("Waiting for the worker.")).to_be_visible()
    axe(desk)
    assert jobs.run(Job.objects.get(kind="new_ball_plan").pk)
    expect(desk.get_by_role("heading", name="Gain over what is at hand")).to_be_visible()
    axe(desk)
    shoot(desk, "new_ball_made")
    expect(desk.get_by_text("The shop earns on a ball")).to_be_visible()
    expect(desk.get_by_role("img", name=re.compile("Gain in strikes"))).to_be_visible()
    expect(desk.get_by_role("img", name=re.compile("Usual throws"))).to_be_visible()
    desk.set_viewport_size({"width": 360, "height": 740})
    axe(desk)
    shoot(desk, "new_ball_made")
