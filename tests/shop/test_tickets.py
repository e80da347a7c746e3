"""Tickets: numbers, steps, double taps, and what a finished one writes into a ball's history."""

from __future__ import annotations

import math
import threading
import uuid
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.utils import timezone

from clients import drilling, gear, layouts, tickets
from clients.models import AuditEntry, Ball, BallEvent, Client, Layout, Mail, Surface, Ticket
from clients.names import NameTaken

Kind, Status = Ticket.Kind, Ticket.Status


def take_in(cast, kind: str = Kind.CLEAN, **more) -> Ticket:
    facts = {"client": cast.sam_client, "ball": cast.ball, "kind": kind, "by": cast.otto}
    return tickets.take_in(**(facts | more))


def to_ready(ticket: Ticket, by) -> Ticket:
    ticket = tickets.move_on(ticket, seen=Status.TAKEN_IN, by=by)
    return tickets.move_on(ticket, seen=Status.ON_BENCH, by=by)


def actions(ticket: Ticket) -> list[str]:
    entries = AuditEntry.objects.filter(subject=f"clients.Ticket {ticket.pk}").order_by("pk")
    return list(entries.values_list("action", flat=True))


# Taking in.


def test_numbers_count_up_from_one(cast):
    assert [take_in(cast).number for _ in range(3)] == [1, 2, 3]


def test_the_highest_number_is_not_given_again_when_its_client_is_deleted(cast):
    take_in(cast)
    walt = take_in(cast, client=Client(name="Walt"), ball=None)
    assert walt.number == 2
    walt.client.delete()
    assert not Ticket.objects.filter(number=2).exists()
    assert take_in(cast).number == 3


def test_tickets_of_before_the_counter_are_counted(cast):
    Ticket.objects.create(number=41, client=cast.sam_client, kind=Kind.CLEAN)
    assert take_in(cast).number == 42


def test_a_second_tap_finds_the_first_ones_ticket(cast):
    key = uuid.uuid4()
    assert take_in(cast, key=key) == take_in(cast, key=key)
    assert Ticket.objects.count() == 1
    assert actions(Ticket.objects.get()) == ["ticket.taken_in"]


@pytest.mark.django_db(transaction=True)
def test_tickets_taken_in_at_once_have_numbers_without_gap_or_double(transactional_db, cast):
    problems: list[Exception] = []

    def work() -> None:
        try:
            for _ in range(3):
                take_in(cast)
        except Exception as error:
            problems.append(error)
        finally:
            connection.close()

    threads = [threading.Thread(target=work) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not problems
    assert sorted(Ticket.objects.values_list("number", flat=True)) == list(range(1, 13))


def test_a_walk_in_with_a_new_ball_is_put_on_file_with_the_ticket(cast):
    ticket = take_in(
        cast, client=Client(name="Walt"), ball=Ball(name="Blue", cover="pearl"), kind=Kind.DRILL
    )
    walt = Client.objects.get(name="Walt")
    assert (ticket.client, walt.coach) == (walt, None)
    assert Ball.objects.get(client=walt) == ticket.ball


def test_a_name_that_the_gear_has_leaves_nothing_half_done(cast):
    with pytest.raises(NameTaken):
        take_in(cast, ball=Ball(name="A", cover="pearl"))
    assert not Ticket.objects.exists()
    assert take_in(cast).number == 1


def test_somebody_elses_ball_or_layout_is_refused(cast):
    with pytest.raises(ValueError, match="not Sam's ball"):
        take_in(cast, ball=cast.tess_ball)
    with pytest.raises(ValueError, match="another ball's"):
        take_in(cast, Kind.DRILL, layout=make_layout(cast.tess_ball))


def test_what_the_work_does_not_need_is_not_kept(cast):
    ticket = take_in(cast, Kind.CLEAN, grit=2000, polished=True)
    assert (ticket.grit, ticket.polished) == (None, False)
    assert take_in(cast, Kind.POLISH).polished


# Steps.


def test_a_ticket_goes_on_step_by_step_and_is_signed_off(cast):
    ticket = take_in(cast)
    ticket = tickets.move_on(ticket, seen=Status.TAKEN_IN, by=cast.otto)
    assert (ticket.status, ticket.assigned_to) == (Status.ON_BENCH, cast.otto)
    ticket = tickets.move_on(ticket, seen=Status.ON_BENCH, by=cast.carl)
    assert (ticket.status, ticket.signed_by) == (Status.READY, cast.carl)
    assert ticket.ready_at is not None
    ticket = tickets.move_on(ticket, seen=Status.READY, by=cast.otto)
    assert ticket.status == Status.HANDED_OVER
    assert ticket.handed_over_at >= ticket.ready_at >= ticket.started_at


def test_a_tap_that_comes_late_does_nothing(cast):
    ticket = take_in(cast)
    for _ in range(2):
        ticket = tickets.move_on(ticket, seen=Status.TAKEN_IN, by=cast.otto)
    assert ticket.status == Status.ON_BENCH
    assert actions(ticket) == ["ticket.taken_in", "ticket.moved"]


@pytest.mark.parametrize("seen", ["", "dropped", "handed_over", "made up"])
def test_from_the_end_nothing_moves_on(cast, seen):
    ticket = take_in(cast)
    Ticket.objects.filter(pk=ticket.pk).update(status=seen)
    assert tickets.move_on(ticket, seen=seen, by=cast.otto).status == seen


def test_each_step_can_be_taken_back_and_is_written_down(cast):
    ticket = tickets.move_on(to_ready(take_in(cast), cast.otto), seen=Status.READY, by=cast.otto)
    for seen, then in [
        (Status.HANDED_OVER, Status.READY),
        (Status.READY, Status.ON_BENCH),
        (Status.ON_BENCH, Status.TAKEN_IN),
        (Status.TAKEN_IN, Status.TAKEN_IN),
    ]:
        ticket = tickets.step_back(ticket, seen=seen, by=cast.carl)
        assert ticket.status == then
    assert (ticket.started_at, ticket.ready_at, ticket.signed_by) == (None, None, None)
    assert ticket.handed_over_at is None
    assert actions(ticket).count("ticket.moved_back") == 3


def test_a_step_back_that_comes_late_does_nothing(cast):
    ticket = to_ready(take_in(cast), cast.otto)
    for _ in range(2):
        ticket = tickets.step_back(ticket, seen=Status.READY, by=cast.otto)
    assert ticket.status == Status.ON_BENCH


@pytest.mark.parametrize("begun", [True, False])
def test_a_dropped_ticket_can_be_taken_up_where_it_was(cast, begun):
    ticket = take_in(cast)
    if begun:
        ticket = tickets.move_on(ticket, seen=Status.TAKEN_IN, by=cast.otto)
    was = ticket.status
    ticket = tickets.drop(ticket, by=cast.otto)
    assert ticket.status == Status.DROPPED
    assert tickets.step_back(ticket, seen=Status.DROPPED, by=cast.otto).status == was


def test_finished_work_is_not_dropped(cast):
    ticket = to_ready(take_in(cast), cast.otto)
    assert tickets.drop(ticket, by=cast.otto).status == Status.READY


def test_a_change_after_the_sign_off_leaves_the_work_as_it_was(cast):
    ticket = to_ready(take_in(cast, Kind.RESURFACE, grit=1000), cast.otto)
    ticket.grit, ticket.price = 500, Decimal("20.00")
    tickets.change(ticket, by=cast.otto, fields=["grit", "price", "note"])
    ticket.refresh_from_db()
    assert (ticket.grit, ticket.price) == (1000, Decimal("20.00"))
    changed = AuditEntry.objects.get(action="ticket.changed")
    assert changed.data == {"fields": ["price"]}


# What a finished ticket writes.


@pytest.mark.parametrize(
    ("kind", "event"),
    [
        (Kind.DRILL, "drilled"),
        (Kind.PLUG, "plugged"),
        (Kind.CLEAN, "cleaned"),
        (Kind.OIL_OUT, "oil_out"),
        (Kind.INSERTS, "inserts"),
    ],
)
def test_the_sign_off_writes_the_history_once(cast, kind, event):
    ticket = take_in(cast, kind)
    assert not BallEvent.objects.exists()
    ticket = to_ready(ticket, cast.otto)
    tickets.finish(ticket, by=cast.otto)
    tickets.move_on(ticket, seen=Status.READY, by=cast.otto)
    written = BallEvent.objects.get()
    assert (written.ball, written.kind, written.ticket) == (cast.ball, event, ticket)
    assert (written.on, written.by) == (timezone.localdate(), cast.otto)


def test_a_resurface_is_the_surface_that_the_ball_has_then(cast):
    ticket = to_ready(take_in(cast, Kind.RESURFACE, grit=1000, polished=True), cast.otto)
    tickets.finish(ticket, by=cast.otto)
    assert cast.ball.surfaces.count() == 2
    surface = Ball.objects.get(pk=cast.ball.pk).surface
    assert (surface.grit, surface.polished, surface.done_by) == (1000, True, cast.otto)
    assert surface.ticket == ticket


def test_two_tickets_of_the_same_work_on_one_day_are_two_lines(cast):
    for _ in range(2):
        to_ready(take_in(cast, Kind.RESURFACE, grit=1000), cast.otto)
    assert cast.ball.surfaces.filter(grit=1000).count() == 2


def test_a_polish_keeps_the_grit_that_is_under_it(cast):
    to_ready(take_in(cast, Kind.POLISH), cast.otto)
    surface = Ball.objects.get(pk=cast.ball.pk).surface
    assert (surface.grit, surface.polished) == (2000, True)


@pytest.mark.parametrize("kind", [Kind.RESURFACE, Kind.POLISH])
def test_without_a_grit_the_surface_cannot_be_signed_off(cast, kind):
    ticket = take_in(cast, kind, client=cast.tess_client, ball=cast.tess_ball)
    with pytest.raises(tickets.NotReady, match="grit"):
        to_ready(ticket, cast.otto)
    ticket.refresh_from_db()
    assert ticket.status == Status.ON_BENCH
    assert not Surface.objects.filter(ball=cast.tess_ball).exists()


def test_work_on_a_ball_that_nobody_named_is_signed_off_without_a_history(cast):
    ticket = to_ready(take_in(cast, Kind.RESURFACE, ball=None, grit=500), cast.otto)
    assert ticket.status == Status.READY
    assert not BallEvent.objects.exists()


def make_layout(ball: Ball, **more) -> Layout:
    facts = {"pap_over_in": 5.0, "pap_up_in": 0.5, "pin_over_in": 2.0, "pin_up_in": 3.0}
    return Layout.objects.create(ball=ball, **(facts | more))


def test_a_drilled_layout_is_the_balls_from_then_on(cast):
    """Its distance by the spherical law of cosines, with over and up as longitude and latitude."""
    old = make_layout(cast.ball, drilled_on=timezone.localdate() - timedelta(days=90))
    new = make_layout(cast.ball, pin_over_in=1.5)
    ticket = to_ready(take_in(cast, Kind.DRILL), cast.otto)
    assert ticket.layout == new
    new.refresh_from_db()
    old.refresh_from_db()
    cast.ball.refresh_from_db()
    assert (new.drilled_on, old.replaced_on) == (timezone.localdate(), timezone.localdate())
    over, pap_up, pin_up = (math.radians(inches / 27 * 360) for inches in (5.0 - 1.5, 0.5, 3.0))
    arc = math.acos(
        math.sin(pap_up) * math.sin(pin_up) + math.cos(pap_up) * math.cos(pin_up) * math.cos(over)
    )
    assert cast.ball.pin_to_pap_in == pytest.approx(math.degrees(arc) / 360 * 27, abs=1e-4)
    assert cast.ball.angle_at_pin_deg is None  # a ball without a mass bias has none


def test_back_from_ready_the_history_is_as_it_was(cast):
    cast.ball.pin_to_pap_in = 3.0
    cast.ball.save()
    old = make_layout(cast.ball, drilled_on=timezone.localdate() - timedelta(days=90))
    make_layout(cast.ball)
    drilled = to_ready(take_in(cast, Kind.DRILL), cast.otto)
    sanded = to_ready(take_in(cast, Kind.RESURFACE, grit=500), cast.otto)
    for ticket in (drilled, sanded):
        tickets.step_back(ticket, seen=Status.READY, by=cast.otto)
    old.refresh_from_db()
    drilled.layout.refresh_from_db()
    ball = Ball.objects.get(pk=cast.ball.pk)
    assert (old.replaced_on, drilled.layout.drilled_on) == (None, None)
    assert (ball.pin_to_pap_in, ball.surface.grit) == (3.0, 2000)
    assert not BallEvent.objects.exists()
    # And signed off once more it is written once more.
    tickets.move_on(drilled, seen=Status.ON_BENCH, by=cast.otto)
    assert BallEvent.objects.count() == 1


def test_plugging_ends_the_layout_and_can_be_taken_back(cast):
    layout = make_layout(cast.ball, drilled_on=timezone.localdate() - timedelta(days=90))
    ticket = to_ready(take_in(cast, Kind.PLUG), cast.otto)
    layout.refresh_from_db()
    assert layout.replaced_on == timezone.localdate()
    tickets.step_back(ticket, seen=Status.READY, by=cast.otto)
    layout.refresh_from_db()
    assert layout.replaced_on is None


def test_a_layout_that_was_marked_by_hand_is_not_written_twice_nor_taken_back(cast):
    layout = make_layout(cast.ball)
    ticket = take_in(cast, Kind.DRILL)
    assert ticket.layout == layout
    layouts.was_drilled(layout, on=timezone.localdate(), by=cast.carl)
    ticket = to_ready(ticket, cast.otto)
    assert BallEvent.objects.get(kind="drilled").by == cast.carl
    tickets.step_back(ticket, seen=Status.READY, by=cast.otto)
    layout.refresh_from_db()
    assert layout.drilled_on == timezone.localdate()
    assert BallEvent.objects.filter(kind="drilled").count() == 1


def test_a_number_that_no_ball_can_keep_is_left_out(cast):
    """A pin beyond the VAL has a negative angle at the PAP, which a ball's field does not take."""
    layout = make_layout(cast.ball, pin_over_in=7.0)
    told = layouts.geometry(layout).angle_at_pap_deg
    assert isinstance(layouts.geometry(layout), drilling.Layout)
    assert told < 0
    layouts.mark_drilled(layout, on=timezone.localdate(), by=cast.otto)
    cast.ball.refresh_from_db()
    assert cast.ball.angle_at_pap_deg is None
    cast.ball.full_clean()


def test_an_event_without_a_ticket_may_stand_twice(cast):
    for _ in range(2):
        gear.write_event(ball=cast.ball, kind="games", games=3, by=cast.otto)
    assert cast.ball.events.count() == 2


# The letter.


def letters() -> set[tuple[str, str]]:
    return set(Mail.objects.values_list("address", "subject"))


def test_client_and_guardians_are_told_once(cast):
    ball = Ball.objects.create(client=cast.wendy_client, name="W", cover="pearl")
    ticket = take_in(cast, client=cast.wendy_client, ball=ball)
    tickets.move_on(ticket, seen=Status.TAKEN_IN, by=cast.otto)
    assert not Mail.objects.exists()
    for _ in range(2):
        tickets.move_on(ticket, seen=Status.ON_BENCH, by=cast.otto)
    assert letters() == {
        ("wendy@example.org", "Ready to collect: W"),
        ("gina@example.org", "Ready to collect for Wendy: W"),
    }
    body = Mail.objects.get(address="gina@example.org").body
    assert f"ticket {ticket.number}" in body
    assert f"/shop/{ticket.pk}/" in body


def test_a_letter_that_has_not_gone_out_is_taken_back_with_the_sign_off(cast):
    ticket = to_ready(take_in(cast), cast.otto)
    tickets.step_back(ticket, seen=Status.READY, by=cast.otto)
    assert not Mail.objects.exists()
    tickets.move_on(ticket, seen=Status.ON_BENCH, by=cast.otto)
    assert letters() == {("sam@example.org", "Ready to collect: A")}


def test_a_letter_that_has_gone_out_is_not_written_again(cast):
    ticket = to_ready(take_in(cast), cast.otto)
    Mail.objects.update(sent_at=timezone.now())
    tickets.step_back(ticket, seen=Status.READY, by=cast.otto)
    tickets.move_on(ticket, seen=Status.ON_BENCH, by=cast.otto)
    assert Mail.objects.count() == 1


def test_a_walk_in_without_an_account_gets_no_letter(cast):
    to_ready(take_in(cast, client=cast.tess_client, ball=cast.tess_ball), cast.otto)
    assert not Mail.objects.exists()


# What is told of it.


def test_the_history_is_told_from_the_audit_log(cast):
    ticket = take_in(cast)
    ticket = to_ready(ticket, cast.otto)
    tickets.step_back(ticket, seen=Status.READY, by=cast.carl)
    told = [(line.words, line.who) for line in tickets.history_of(ticket)]
    assert told == [
        ("back to “on the bench”", "Carl"),
        ("ready and signed off", "Otto"),
        ("on the bench", "Otto"),
        ("taken in", "Otto"),
    ]


def test_an_amount_has_two_places_and_the_shops_currency(settings):
    settings.CURRENCY = "EUR"
    assert tickets.money(Decimal("45")) == "45.00 EUR"
    assert tickets.money(None) == ""


def test_the_export_holds_every_ticket_of_the_client_and_no_other(cast):
    ticket = to_ready(take_in(cast, price=Decimal("45.5"), note="Scratch by the thumb"), cast.otto)
    take_in(cast, client=cast.tess_client, ball=cast.tess_ball)
    [facts] = tickets.facts_of(cast.sam_client)
    assert (facts["number"], facts["kind"], facts["status"]) == (ticket.number, "clean", "ready")
    assert (facts["price"], facts["note"]) == ("45.50", "Scratch by the thumb")
    assert facts["signed_by"] == "Otto"
