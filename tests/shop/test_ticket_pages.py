"""The day board and a ticket's pages, as the shop, the client and a guardian see them."""

from __future__ import annotations

import re
import uuid
from datetime import timedelta
from decimal import Decimal

import pytest
from django.conf import settings
from django.urls import reverse
from django.utils import timezone

from clients import cautions, tickets
from clients.models import Ball, BallEvent, Client, Mail, Surface, Ticket
from clients.views.links import qr_picture

Kind, Status = Ticket.Kind, Ticket.Status


def take_in(cast, kind: str = Kind.CLEAN, **more) -> Ticket:
    facts = {"client": cast.sam_client, "ball": cast.ball, "kind": kind, "by": cast.otto}
    return tickets.take_in(**(facts | more))


def set_to(ticket: Ticket, status: str, **more) -> Ticket:
    Ticket.objects.filter(pk=ticket.pk).update(status=status, **more)
    ticket.refresh_from_db()
    return ticket


def in_days(days: int):
    return timezone.localdate() + timedelta(days=days)


def page(browser, name: str, *args, **asked) -> str:
    response = browser.get(reverse(f"clients:{name}", args=args), asked)
    assert response.status_code == 200
    return response.content.decode().split('id="main"')[1]


def sections(browser, **asked) -> dict[str, list[int]]:
    board = browser.get(reverse("clients:shop"), asked).context["board"]
    return {name: [ticket.number for ticket in rows] for name, _, rows in board.sections}


# The board.


def test_due_and_late_come_first_then_by_status(cast, as_user):
    take_in(cast, due_on=in_days(3))  # 1
    take_in(cast, due_on=in_days(0))  # 2
    set_to(take_in(cast, due_on=in_days(-2)), Status.ON_BENCH)  # 3
    set_to(take_in(cast, due_on=in_days(5)), Status.ON_BENCH)  # 4
    set_to(take_in(cast, due_on=in_days(-9)), Status.READY)  # 5: the work is done, none is late
    set_to(take_in(cast), Status.HANDED_OVER, handed_over_at=timezone.now())  # 6
    long_ago = timezone.now() - timedelta(days=2)
    set_to(take_in(cast), Status.HANDED_OVER, handed_over_at=long_ago)  # 7
    set_to(take_in(cast), Status.DROPPED)  # 8
    take_in(cast, due_on=in_days(1))  # 9
    take_in(cast)  # 10: no day, so last
    assert list(sections(as_user(cast.otto)).items()) == [
        ("due", [3, 2]),
        ("on_bench", [4]),
        ("taken_in", [9, 1, 10]),
        ("ready", [5]),
        ("handed_over", [6]),
    ]
    html = page(as_user(cast.otto), "shop")
    assert "2 days late" in html
    assert "due today" in html
    assert html.count("late</span>") == 1


def test_a_coach_has_the_tickets_of_their_own_clients(cast, as_user):
    take_in(cast)
    take_in(cast, client=cast.tess_client, ball=cast.tess_ball)
    assert sections(as_user(cast.carl)) == {"taken_in": [1]}
    assert sections(as_user(cast.dora)) == {"taken_in": [2]}
    assert sections(as_user(cast.olive)) == {"taken_in": [1, 2]}


def test_the_board_is_filtered_by_work_and_by_who(cast, as_user):
    take_in(cast)
    take_in(cast, Kind.PLUG, assigned_to=cast.otto)
    otto = as_user(cast.otto)
    assert sections(otto, kind="plug") == {"taken_in": [2]}
    assert sections(otto, who=str(cast.otto.pk)) == {"taken_in": [2]}
    assert sections(otto, who="nobody") == {"taken_in": [1]}
    assert sections(otto, kind="plug", who="nobody") == {}
    assert "None of these" in page(otto, "shop", kind="plug", who="nobody")
    assert sections(otto, kind="made up", who="x") == {"taken_in": [1, 2]}


def test_an_empty_shop_is_told_how_to_begin(cast, as_user):
    html = page(as_user(cast.otto), "shop")
    assert "Nothing in the shop" in html
    assert reverse("clients:take_in") in html
    assert "No ticket is closed" in page(as_user(cast.otto), "shop", show="closed")


def test_what_is_closed_stands_in_a_list_of_its_own(cast, as_user):
    set_to(take_in(cast), Status.DROPPED)
    set_to(take_in(cast), Status.HANDED_OVER, handed_over_at=timezone.now() - timedelta(days=9))
    take_in(cast)
    response = as_user(cast.otto).get(reverse("clients:shop"), {"show": "closed"})
    assert [ticket.number for ticket in response.context["page"]] == [2, 1]


@pytest.mark.parametrize("show", ["", "closed"])
def test_the_board_asks_as_many_queries_for_many_tickets_as_for_one(
    cast, as_user, django_assert_num_queries, show
):
    """Session, user and what their account hangs on, roles, tickets, the people to choose from;
    for the closed their count."""
    otto = as_user(cast.otto)
    for number in range(25):
        client = Client.objects.create(name=f"Client {number}")
        ball = Ball.objects.create(client=client, name="B", cover="pearl")
        ticket = take_in(cast, client=client, ball=ball, assigned_to=cast.otto, due_on=in_days(-1))
        if show:
            set_to(ticket, Status.HANDED_OVER)
        if number in (0, 24):
            with django_assert_num_queries(7 if show else 6):
                otto.get(reverse("clients:shop"), {"show": show})


# Taking in.


def test_taken_in_from_a_balls_page(cast, as_user):
    otto = as_user(cast.otto)
    ball = page(otto, "ball", cast.ball.pk)
    address = reverse("clients:ticket_new", args=[cast.sam_client.pk])
    assert f"{address}?ball={cast.ball.pk}" in ball
    form = otto.get(address, {"ball": cast.ball.pk}).context["form"]
    assert form.initial["ball"] == cast.ball
    data = {
        "key": form["key"].value(),
        "kind": "resurface",
        "ball": cast.ball.pk,
        "grit": "1000",
        "due_on": "2026-12-01",
        "price": "45,50",
        "note": "Scratch by the thumb",
    }
    first, second = (otto.post(address, data) for _ in range(2))
    ticket = Ticket.objects.get()
    assert first["Location"] == second["Location"] == reverse("clients:ticket", args=[ticket.pk])
    assert (ticket.grit, ticket.price) == (1000, Decimal("45.50"))
    html = page(otto, "ticket", ticket.pk)
    for text in ("Scratch by the thumb", "45.50 USD", "1000 grit", "1 Dec 2026", "Taken in"):
        assert text in html
    assert reverse("clients:ticket", args=[ticket.pk]) in page(otto, "ball", cast.ball.pk)


def test_taken_in_for_somebody_new_on_one_page(cast, as_user):
    data = {
        "key": uuid.uuid4(),
        "client_name": "Walt",
        "hand": "left",
        "new_ball": "Blue",
        "new_cover": "pearl",
        "kind": "drill",
    }
    otto = as_user(cast.otto)
    for _ in range(2):
        otto.post(reverse("clients:ticket_walk_in"), data)
    ticket = Ticket.objects.get()
    assert (ticket.client.name, ticket.client.hand, ticket.client.coach) == ("Walt", "left", None)
    assert (ticket.ball.name, ticket.ball.client) == ("Blue", ticket.client)


@pytest.mark.parametrize(
    ("data", "field"),
    [
        ({}, "kind"),
        ({"kind": "resurface"}, "grit"),
        ({"kind": "resurface", "grit": "12"}, "grit"),
        ({"kind": "clean", "price": "much"}, "price"),
        ({"kind": "clean", "price": "-5"}, "price"),
        ({"kind": "clean", "new_ball": "Blue"}, "new_cover"),
        ({"kind": "clean", "new_ball": "A", "new_cover": "pearl"}, "new_ball"),
        ({"kind": "clean", "due_on": "soon"}, "due_on"),
    ],
)
def test_what_cannot_be_taken_in_is_said_at_its_field(cast, as_user, data, field):
    address = reverse("clients:ticket_new", args=[cast.sam_client.pk])
    response = as_user(cast.otto).post(address, {"note": "Keep this"} | data)
    assert response.status_code == 200
    assert field in response.context["form"].errors
    assert "Keep this" in response.content.decode()
    assert not Ticket.objects.exists()


def test_the_only_ball_in_use_is_chosen_already_and_a_retired_one_not_offered(cast, as_user):
    address = reverse("clients:ticket_new", args=[cast.sam_client.pk])
    old = Ball.objects.create(client=cast.sam_client, name="Old", cover="pearl")
    otto = as_user(cast.otto)
    assert otto.get(address).context["form"]["ball"].value() is None
    Ball.objects.filter(pk=old.pk).update(retired_at=timezone.localdate())
    form = otto.get(address).context["form"]
    assert form["ball"].value() == cast.ball.pk
    assert list(form.fields["ball"].queryset) == [cast.ball]


def test_nobodys_ball_but_the_clients_can_be_chosen(cast, as_user):
    address = reverse("clients:ticket_new", args=[cast.sam_client.pk])
    response = as_user(cast.otto).post(address, {"kind": "clean", "ball": cast.tess_ball.pk})
    assert "ball" in response.context["form"].errors


# Moving on.


def tap(browser, name: str, ticket: Ticket, **data):
    return browser.post(reverse(f"clients:{name}", args=[ticket.pk]), data)


def test_one_tap_on_the_board_moves_a_ticket_and_a_second_does_no_harm(cast, as_user):
    ticket = take_in(cast)
    otto = as_user(cast.otto)
    for _ in range(2):
        response = tap(otto, "ticket_move", ticket, seen="taken_in", **{"from": "board"})
        assert response["Location"] == "/shop/?moved=1#ticket-1"
    ticket.refresh_from_db()
    assert ticket.status == Status.ON_BENCH
    assert "moved" in page(otto, "shop", moved="1")


def test_the_board_stays_filtered(cast, as_user):
    ticket = take_in(cast)
    data = {"seen": "taken_in", "from": "board", "kind": "clean", "who": ""}
    response = tap(as_user(cast.otto), "ticket_move", ticket, **data)
    assert response["Location"] == "/shop/?kind=clean&moved=1#ticket-1"


def test_signed_off_and_back_from_the_ticket_s_page(cast, as_user):
    ticket = set_to(take_in(cast, Kind.RESURFACE, grit=500), Status.ON_BENCH)
    otto = as_user(cast.otto)
    assert "Sign off as ready" in page(otto, "ticket", ticket.pk)
    tap(otto, "ticket_move", ticket, seen="on_bench")
    assert Surface.objects.filter(ticket=ticket, grit=500).exists()
    html = page(otto, "ticket", ticket.pk)
    assert "Signed off" in html
    assert "Hand over" in html
    tap(otto, "ticket_step_back", ticket, seen="ready")
    assert not Surface.objects.filter(ticket=ticket).exists()


def test_the_page_says_who_is_told_that_it_is_ready(cast, as_user):
    otto = as_user(cast.otto)
    sams = tickets.move_on(
        set_to(take_in(cast), Status.ON_BENCH), seen=Status.ON_BENCH, by=cast.otto
    )
    tess = set_to(
        take_in(cast, client=cast.tess_client, ball=cast.tess_ball), Status.READY, number=9
    )
    assert "Sam will be told by letter, which waits" in page(otto, "ticket", sams.pk)
    assert "Tell them yourself" in page(otto, "ticket", tess.pk)
    Mail.objects.update(sent_at=timezone.now())
    assert "Sam was told by letter on" in page(otto, "ticket", sams.pk)
    response = otto.post(
        reverse("clients:ticket_step_back", args=[sams.pk]), {"seen": "ready"}, follow=True
    )
    assert "A letter that it is ready went to Sam" in response.content.decode()


def test_what_is_missing_for_the_sign_off_is_asked_for(cast, as_user):
    ticket = set_to(
        take_in(cast, Kind.POLISH, client=cast.tess_client, ball=cast.tess_ball), Status.ON_BENCH
    )
    otto = as_user(cast.otto)
    response = tap(otto, "ticket_move", ticket, seen="on_bench")
    assert response["Location"] == reverse("clients:ticket_change", args=[ticket.pk])
    assert "Write down the last grit first" in page(otto, "ticket_change", ticket.pk)
    ticket.refresh_from_db()
    assert ticket.status == Status.ON_BENCH


def test_once_signed_off_the_work_is_not_asked_for_again(cast, as_user):
    ticket = set_to(take_in(cast, Kind.RESURFACE, grit=500), Status.READY)
    otto = as_user(cast.otto)
    html = page(otto, "ticket_change", ticket.pk)
    assert "The work is signed off" in html
    assert 'name="grit"' not in html
    otto.post(
        reverse("clients:ticket_change", args=[ticket.pk]), {"grit": "80", "note": "Paid in cash"}
    )
    ticket.refresh_from_db()
    assert (ticket.grit, ticket.note) == (500, "Paid in cash")


def test_dropped_and_taken_up_again(cast, as_user):
    ticket = take_in(cast)
    otto = as_user(cast.otto)
    tap(otto, "ticket_drop", ticket)
    assert sections(otto) == {}
    assert "Not dropped after all" in page(otto, "ticket", ticket.pk)
    tap(otto, "ticket_step_back", ticket, seen="dropped")
    assert sections(otto) == {"taken_in": [1]}
    assert not BallEvent.objects.exists()


# What the client sees.


@pytest.fixture
def wendys(cast) -> Ticket:
    ball = Ball.objects.create(client=cast.wendy_client, name="W", cover="pearl")
    return take_in(
        cast, client=cast.wendy_client, ball=ball, note="Owes for the last one", due_on=in_days(2)
    )


@pytest.mark.parametrize("who", ["wendy", "gina"])
def test_client_and_guardian_see_it_without_the_notes_of_the_shop(cast, as_user, wendys, who):
    browser = as_user(getattr(cast, who))
    html = page(browser, "ticket", wendys.pk)
    assert "taken in" in html
    for inside in ("Owes for", "History", "Steps", "<form", "Otto", "Change", "Label"):
        assert inside not in html.split("</main>")[0]


@pytest.mark.parametrize("who", ["wendy", "gina"])
def test_the_portal_and_the_balls_page_say_when_it_can_be_collected(cast, as_user, wendys, who):
    browser = as_user(getattr(cast, who))
    link = reverse("clients:ticket", args=[wendys.pk])
    pages = [reverse("portal"), reverse("clients:ball", args=[wendys.ball_id])]
    for address in pages:
        html = browser.get(address).content.decode()
        assert link in html
        assert "ready to collect" not in html
    set_to(wendys, Status.READY, ready_at=timezone.now(), signed_by=cast.otto)
    for address in [*pages, link]:
        assert "ready to collect" in browser.get(address).content.decode()
    set_to(wendys, Status.HANDED_OVER)
    for address in pages:
        assert link not in browser.get(address).content.decode()


def test_the_portal_of_one_shows_nothing_of_another(cast, as_user, wendys):
    assert "At the shop" not in as_user(cast.sam).get(reverse("portal")).content.decode()


def test_the_first_page_names_the_work_that_is_due(cast, as_user):
    take_in(cast, due_on=in_days(-1))
    take_in(cast, due_on=in_days(4))
    response = as_user(cast.otto).get(reverse("today"))
    assert [ticket.number for ticket in response.context["today"].tickets] == [1]
    assert "Shop tickets due" in response.content.decode()


# Label and cautions.


def test_the_label_carries_the_link_as_a_code(cast, as_user):
    ticket = take_in(cast, Kind.RESURFACE, grit=2000, due_on=in_days(1))
    html = page(as_user(cast.otto), "ticket_label", ticket.pk)
    assert qr_picture(f"{settings.SITE_URL}/shop/{ticket.pk}/") in html
    assert qr_picture(f"{settings.SITE_URL}/shop/{uuid.uuid4()}/") not in html
    for text in ("Sam", "to 2000 grit", f">{ticket.number}<"):
        assert text in html


@pytest.mark.parametrize("kind", Kind.values)
def test_every_kind_of_work_shows_its_cautions_with_their_sources(cast, as_user, kind):
    html = page(as_user(cast.otto), "ticket", take_in(cast, kind, grit=500).pk)
    for caution in cautions.for_work(kind):
        assert caution.text.replace("'", "&#x27;") in html
        assert f"[{caution.source.replace(chr(39), '&#x27;')}]" in html
    assert "Local codes and trained staff decide" in html


@pytest.mark.parametrize(
    ("kind", "published"),
    [
        # 29 CFR 1910.1000 table Z-1: nuisance dust, total and respirable, 8-h average.
        ("resurface", ["15 mg/m3", "5 mg/m3", "29 CFR 1910.133", "29 CFR 1910.134"]),
        ("polish", ["29 CFR 1910.133", "rotat|turns", "once competition has begun"]),
        ("drill", ["29 CFR 1910.133", "29 CFR 1910.212", "29 CFR 1910.95"]),
        # NIOSH for MDI, CAS 101-68-8: 0.05 mg/m3 (0.005 ppm), ceiling 0.2 mg/m3 (0.02 ppm, OSHA).
        # Styrene: OSHA table Z-2 100 ppm, ceiling 200 ppm; NIOSH 50 ppm.
        ("plug", [r"0\.05 mg/m3 \(0\.005 ppm\)", r"0\.2 mg/m3 \(0\.02 ppm\)", "101-68-8"]),
        ("plug", ["100 ppm", "200 ppm", "50 ppm", "sensitise skin and lungs", "extraction"]),
    ],
)
def test_cautions_tell_the_published_limits(kind, published):
    said = " ".join(f"{one.text} {one.source}" for one in cautions.for_work(kind))
    for pattern in published:
        assert re.search(pattern, said, re.IGNORECASE), pattern


def test_cautions_of_several_kinds_stand_once_with_the_local_codes_last():
    both = cautions.for_work("drill", "plug")
    assert len(both) == len(set(both))
    assert both[-1] is cautions.LOCAL_CODES
