"""The law that covers settle by: fitted to the shop's readings, and in force on every page."""

from __future__ import annotations

import math
from dataclasses import asdict, replace
from datetime import date, timedelta

import numpy as np
import pytest
from django.urls import reverse
from django.utils import timezone

from clients import jobs, life
from clients.models import Ball, Layout, Surface, SurfaceReading
from lanes import cover_law, readings
from lanes.arsenal import arsenal_of, doubt_boards, release_of
from lanes.layout_sheet import layout_sheet, orientation
from lanes.locker import spec_of
from lanes.models import Session, Shot
from lanes.motion import HOUSE, BallSpec, lane_friction, roll_rigid
from lanes.motion.constants import LANE_WORN_GRIT, PAD_SHARE, REFERENCE_GRIT
from lanes.motion.friction import SURFACE_LAW, SurfaceLaw, ball_friction
from lanes.motion.reference import on_reference_lane, reaction
from lanes.motion.wear import Throw, after
from lanes.reactions import lines_of, reaction_of
from lanes.reading.client import ClientFacts
from lanes.reading.session import read_session
from lanes.try_shot import Trial, try_shot
from tests.reading.simulator import session as simulated

TODAY = timezone.localdate
TRUE = SurfaceLaw(2300, 0.6, 13)


def day(ago: int) -> date:
    return TODAY() - timedelta(days=ago)


@pytest.fixture
def read(cast) -> None:
    """Forty readings of the shop's meter, of covers that settle by TRUE."""
    rng = np.random.default_rng(2)
    for number in range(40):
        ball = Ball.objects.create(
            client=cast.tess_client, name=f"B{number}", cover="solid", retired_at=TODAY()
        )
        grit, games = int(rng.choice([500, 1000, 4000])), int(rng.integers(1, 40))
        Surface.objects.create(ball=ball, grit=grit, done_on=day(100))
        for count, ago in ((games, 50), (30, 5)):  # after the reading: does not count to it
            life.write_down(ball=ball, kind="games", by=None, on=day(ago), games=count)
        number = round(TRUE.number(grit, games) * math.exp(0.06 * rng.normal()))
        SurfaceReading.objects.create(ball=ball, number=number, read_on=day(10))


@pytest.fixture
def worn(cast) -> Ball:
    """Sam's ball A at 500 grit, with 20 games on it."""
    Surface.objects.filter(ball=cast.ball).update(grit=500, done_on=day(300))
    life.write_down(ball=cast.ball, kind="games", by=None, on=day(3), games=20)
    return Ball.objects.select_related("client").get(pk=cast.ball.pk)


def alike(spec: BallSpec, law: SurfaceLaw) -> BallSpec:
    """Return the fresh ball that under the assumed law is as rough as this one under `law`.

    By hand, from what the law says of itself: friction goes with the reference cover's number over
    the ball's, and a fresh cover's number is worn * (grit / worn) ^ share.
    """
    fresh = LANE_WORN_GRIT * (REFERENCE_GRIT / LANE_WORN_GRIT) ** PAD_SHARE
    number = fresh * law.number(spec.grit, spec.games) / law.number(REFERENCE_GRIT)
    grit = LANE_WORN_GRIT * (number / LANE_WORN_GRIT) ** (1.0 / PAD_SHARE)
    return replace(spec, grit=grit, games=0.0)


def test_the_readings_are_fitted_with_the_games_of_their_day(read):
    settling = cover_law.shops_settling()
    assert (settling.readings, settling.is_fitted) == (40, True)
    assert settling.law.lane_worn_grit == pytest.approx(2300, rel=0.05)
    assert settling.law.pad_share == pytest.approx(0.6, abs=0.12)
    assert settling.law.settle_games == pytest.approx(13, abs=2.5)
    SurfaceReading.objects.first().delete()
    assert cover_law.shops_settling().readings == 39  # kept fits do not outlive their readings


def test_readings_that_say_nothing_of_settling_are_left_out(cast, as_user):
    Surface.objects.filter(ball=cast.ball).update(done_on=day(20), polished=True)
    for ball, ago in ((cast.ball, 5), (cast.ball, 30), (cast.tess_ball, 5)):
        SurfaceReading.objects.create(ball=ball, number=2000, read_on=day(ago))
    assert cover_law.cover_readings() == []
    html = as_user(cast.otto).get(reverse("lanes:surface_plan")).content.decode()
    assert "too few meter readings" in html


def test_every_roll_of_a_ball_of_the_shop_goes_by_the_shops_law(cast, read, worn):
    law = cover_law.shops_settling().law
    spec, release = spec_of(worn), release_of(worn.client).release
    same = alike(spec, law)
    # Far enough from the assumed law that a page which forgot it would show.
    assert abs(same.grit - alike(spec, SURFACE_LAW).grit) > 100
    told = on_reference_lane(same, release)

    [mapped] = arsenal_of(worn.client).balls
    assert mapped.head_pin_board == pytest.approx(told.head_pin_board, abs=1e-6)
    assert mapped.doubt_boards == pytest.approx(doubt_boards(same, release), abs=1e-6)

    assert reaction_of(worn).lines == lines_of(reaction(same))

    layout = Layout.objects.create(
        ball=worn, pap_over_in=5.0, pap_up_in=0.5, pin_over_in=1.5, pin_up_in=2.5
    )
    sheet = layout_sheet(layout)
    path = on_reference_lane(same, release, orientation(sheet.geometry))  # Sam's is the middle one
    assert sheet.path.head_pin_board == pytest.approx(path.head_pin_board, abs=1e-6)
    rough = replace(spec, grit=500.0, games=0.0)
    at_500 = on_reference_lane(alike(rough, law), release, orientation(sheet.geometry))
    assert sheet.surfaces[0].entry_angle_deg == pytest.approx(at_500.entry_angle_deg, abs=1e-6)

    trial = Trial(release, 7.5, (spec,), own_before=3, law=law)
    film = after(HOUSE.film(), [Throw(release, same)] * 3)
    path = roll_rigid(release, same, lane_friction(film, same))
    rolled = try_shot(trial)
    assert rolled.rolled[0].path.head_pin_board == pytest.approx(path.head_pin_board, abs=1e-6)
    assert rolled.reference[0].cells == (lines_of(reaction(same))[0].value,)


def test_a_reading_goes_by_the_shops_law(cast, read):
    law = cover_law.shops_settling().law
    for number in range(1, 6):
        Shot.objects.create(session=cast.session, number=number, arrows=12.0, head_pin=17.0)
    assert readings.gather(cast.session).law == law
    # By the shop's law a ball is what one as rough as it is by the assumed law.
    ball, other = (
        BallSpec("A", "solid", 500, False, games=20.0),
        BallSpec("B", "pearl", 3000, False, games=0.0),
    )
    shots, client = simulated("mid burn", 1), ClientFacts("right", "usual", 17.6, 350.0, 55.0, 12.0)
    found = read_session(shots, client, [ball, other], None, law=law).as_json()
    same = [alike(ball, law), alike(other, law)]
    expected = read_session(shots, client, same, None).as_json()
    assumed = read_session(shots, client, [ball, other], None).as_json()
    assert (found["fit"]["law"], found["fit"]["law_own"]) == (asdict(law), True)
    assert (assumed["fit"]["law"], assumed["fit"]["law_own"]) == (asdict(SURFACE_LAW), False)
    for key in ("balls", "release"):
        assert found["fit"].get(key) == expected["fit"].get(key)
    assert found["fit"]["balls"] != assumed["fit"]["balls"]
    angles = [[shot["entry_angle_deg"] for shot in one["shots"]] for one in (found, expected)]
    assert angles[0] == angles[1]

    def chances(reading) -> dict[str, float]:
        # A step of surface is told in grit, which is another cover under another law.
        told = reading["options"]
        return {one["title"]: one["strike"] for one in told if one["kind"] != "surface"}

    # The same but for a last digit: the cover comes back through the law's inverse.
    assert chances(found) == pytest.approx(chances(expected), abs=0.0011)


def test_a_law_that_moved_asks_for_a_new_reading_only_where_it_tells(cast, read, monkeypatch):
    monkeypatch.setattr(jobs, "nudge", lambda job: None)
    Surface.objects.filter(ball=cast.ball).update(grit=500, done_on=day(300))
    session = Session.objects.get(pk=cast.session.pk)
    session.balls.update(grit=500, games=20.0)
    for number, leave in enumerate(["X", "10", "X", "4-9", "7", "X"], start=1):
        Shot.objects.create(session=session, number=number, leave=leave)
    jobs.run(readings.ask(session, cast.carl).pk)
    assert not readings.state(session).has_changed
    law = cover_law.shops_settling().law
    for share, asks in ((1.001, False), (1.5, True)):
        moved = replace(cover_law.shops_settling(), law=replace(law, settle_games=share * 13))
        monkeypatch.setattr(readings, "shops_settling", lambda moved=moved: moved)
        mine = [ball_friction(ball, moved.law)[1] for ball in readings.ball_specs(session)]
        then = [ball_friction(ball, law)[1] for ball in readings.ball_specs(session)]
        assert (max(abs(np.log(np.divide(mine, then)))) > 0.03) == asks
        assert readings.state(session).has_changed is asks


def test_the_pages_say_which_law_they_go_by(cast, read, worn, as_user):
    layout = Layout.objects.create(
        ball=worn, pap_over_in=5.0, pap_up_in=0.5, pin_over_in=1.5, pin_up_in=2.5
    )
    pages = [
        reverse("lanes:arsenal", args=[worn.client_id]),
        reverse("clients:ball", args=[worn.pk]),
        reverse("lanes:layout", args=[layout.pk]),
        f"{reverse('lanes:try_shot')}?client={worn.client_id}",
    ]
    browser = as_user(cast.otto)
    for url in pages:
        assert "own law, from 40 meter readings" in browser.get(url).content.decode(), url
    plan = browser.get(reverse("lanes:surface_plan")).content.decode()
    assert "40 meter readings" in plan
    assert "still take the assumed law" in plan
    SurfaceReading.objects.filter(pk__gt=SurfaceReading.objects.order_by("pk")[2].pk).delete()
    for url in pages:
        html = browser.get(url).content.decode()
        assert "by the assumed law: 3 usable meter readings of the 6" in html, url
