"""Sessions: the list, the start in three taps, one session, its balls and notes."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from clients.gates import coaches_only
from clients.models import Ball, Client
from clients.views.asked import asked_key
from lanes import overview, sessions
from lanes.forms.sessions import AtHandForm, BlockForm, SessionForm
from lanes.models import Block, Session
from lanes.reading.scoring import game_frames
from lanes.reading.shots import LoggedShot
from lanes.shotlog import BY_NAME, Column
from lanes.shots import live_shots, logged_shot

PER_PAGE = 50


@coaches_only
@require_GET
def session_list(request: HttpRequest) -> HttpResponse:
    client = _asked_client(request)
    page = Paginator(overview.sessions_seen_by(request.user, client), PER_PAGE).get_page(
        request.GET.get("page")
    )
    context = {
        "page": page,
        "client": client,
        "clients": Client.objects.editable_by(request.user),
    }
    return render(request, "lanes/sessions/list.html", context)


@coaches_only
@require_http_methods(["GET", "POST"])
def session_start(request: HttpRequest) -> HttpResponse:
    """First tap the client, second the block, third Start: the rest is as it was last time."""
    client = _asked_client(request)
    if client is None:
        context = {"clients": overview.clients_by_recency(request.user)}
        return render(request, "lanes/sessions/start_client.html", context)
    facts = sessions.last_facts(request.user)
    if "block" not in request.GET:
        return render(request, "lanes/sessions/start_block.html", _blocks(request, client, facts))

    block = None
    if request.GET["block"] != "new":
        block = get_object_or_404(
            Block.objects.visible_to(request.user), pk=_uuid(request.GET["block"])
        )
    posted = request.POST if request.method == "POST" else None
    if "fresh" in request.GET:
        facts = sessions.BlockFacts()
    block_form = None if block else BlockForm(posted, user=request.user, facts=facts)
    at_hand = AtHandForm(
        posted,
        client=client,
        initial={
            "id": uuid.uuid4(),
            "balls": client.balls.filter(retired_at=None),
            "watch": sessions.last_watch(client),
        },
    )
    valid = at_hand.is_valid() and (block_form is None or block_form.is_valid())
    if posted is not None and valid:
        session, _ = sessions.start_session(
            by=request.user,
            client=client,
            block=block or block_form.facts(),
            balls=at_hand.cleaned_data["balls"],
            watch=at_hand.cleaned_data["watch"],
            key=at_hand.cleaned_data["id"],
        )
        return redirect("lanes:log", session.pk)
    context = {
        "client": client,
        "joined": block,
        "block_form": block_form,
        "facts": facts,
        "form": at_hand,
        "details_open": bool(block_form and (block_form.errors or not facts.centre)),
    }
    return render(request, "lanes/sessions/start_balls.html", context)


@require_GET
def session_detail(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    session = _session(request, pk)
    shots = live_shots(session)
    logged = [logged_shot(shot) for shot in shots]
    context = {
        "session": session,
        "balls": list(session.balls.all()),
        "lanes": sessions.lane_words(lane.number for lane in session.block.lanes.all()),
        "shots": list(zip(shots, logged, strict=True)),
        "shown": _shown_columns(logged),
        "drafts": session.imports.filter(applied_at=None).defer("data"),
        "games": game_frames(logged),
        "watched": [sessions.WATCHABLE[name] for name in session.watch],
    }
    return render(request, "lanes/sessions/detail.html", context)


@require_http_methods(["GET", "POST"])
def session_edit(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    session = _session(request, pk)
    block = session.block
    known = {"watch": session.watch, "note": session.note}
    known |= {"others_right": block.others_right, "others_left": block.others_left}
    form = SessionForm(request.POST or None, initial=known)
    if request.method == "POST" and form.is_valid():
        sessions.change_session(session=session, by=request.user, **form.cleaned_data)
        messages.success(request, "Saved.")
        return redirect("lanes:session", session.pk)
    context = {
        "session": session,
        "form": form,
        "balls": list(session.balls.all()),
        "more_balls": sessions.balls_to_offer(session),
    }
    return render(request, "lanes/sessions/edit.html", context)


@require_POST
def ball_add(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Put one more of the client's balls at hand, in the middle of a session."""
    session = _session(request, pk)
    ball = get_object_or_404(
        Ball.objects.visible_to(request.user).filter(client=session.client),
        pk=asked_key(request.POST.get("ball")),
    )
    sessions.add_ball(session=session, ball=ball, by=request.user)
    messages.success(request, f"{ball} is at hand.")
    return redirect("lanes:session_edit", session.pk)


@require_POST
def session_delete(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    session = _session(request, pk)
    sessions.delete_session(session=session, by=request.user)
    messages.success(request, f"The session of {session.client} is deleted.")
    return redirect("lanes:sessions")


def _session(request: HttpRequest, pk: uuid.UUID) -> Session:
    mine = Session.objects.visible_to(request.user).select_related(
        "client", "block__centre", "block__pattern"
    )
    return get_object_or_404(mine, pk=pk)


def _asked_client(request: HttpRequest) -> Client | None:
    """Return the client that the address names, None where it names none; a stranger's is 404."""
    text = request.GET.get("client", "")
    if not text:
        return None
    return get_object_or_404(Client.objects.editable_by(request.user), pk=asked_key(text))


def _blocks(request: HttpRequest, client: Client, facts: sessions.BlockFacts) -> dict:
    """Return what the second tap offers: blocks under way, and a new one as last time."""
    running = sessions.running_blocks(request.user)
    there = Session.objects.visible_to(request.user).filter(block__in=running)
    on_block: dict[int, list[Session]] = {block.pk: [] for block in running}
    for session in there.select_related("client").order_by("created_at"):
        on_block[session.block_id].append(session)
    offers = [
        {
            "block": block,
            "lanes": sessions.lane_words(lane.number for lane in block.lanes.all()),
            "session": next((s for s in on_block[block.pk] if s.client_id == client.pk), None),
            "names": [s.client.name for s in on_block[block.pk] if s.client_id != client.pk],
        }
        for block in running
    ]
    return {"client": client, "offers": offers, "facts": facts}


def _shown_columns(shots: list[LoggedShot]) -> list[Column]:
    """Return which measured columns the page's table shows: what was seen at least once."""
    columns = [BY_NAME[name] for name in sessions.WATCHABLE if BY_NAME[name].is_number]
    return [c for c in columns if any(getattr(shot, c.name) is not None for shot in shots)]


def _uuid(text: str) -> uuid.UUID | None:
    try:
        return uuid.UUID(text)
    except ValueError:
        return None
