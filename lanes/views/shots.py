"""The shot log: at the lane on a phone, at a desk as a table, and out again as a file."""

from __future__ import annotations

import uuid
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_GET

from clients.views.downloads import download
from lanes import shots
from lanes.models import Session, Shot
from lanes.shotlog import BY_NAME, COLUMNS, write_csv, write_xlsx

# What the table shows besides what is watched; all columns are one tap away.
_ALWAYS = ("shot", "game", "frame", "delivery", "lane", "ball", "leave", "note")
_ALONG = {"breakpoint": ("breakpoint_ft",), "leave": ("neighbour_pin",), "throw": ("miss",)}
_NOT_TYPED = ("at",)

# The phone's number fields: in the order in which the ball passes them, each with its step.
_STEPS = {
    "stand": (0.5, "½", "half a board"),
    "aim": (0.5, "½", "half a board"),
    "laydown": (0.5, "½", "half a board"),
    "arrows": (0.5, "½", "half a board"),
    "breakpoint": (0.5, "½", "half a board"),
    "breakpoint_ft": (1, "1", "one foot"),
    "head_pin": (0.5, "½", "half a board"),
    "deck_exit": (0.5, "½", "half a board"),
    "speed_mph": (0.1, "0.1", "a tenth"),
    "rev_rpm": (10, "10", "ten"),
}
_SHORT = {"breakpoint_ft": "… at, ft", "speed_mph": "Speed, mph", "rev_rpm": "Revs, rpm"}
_PIN_ROWS = ((7, 8, 9, 10), (4, 5, 6), (2, 3), (1,))  # as seen from the foul line
_PAD_KEYS = (
    *((str(digit), "") for digit in (1, 2, 3)),
    ("⌫", "Delete the last digit"),
    *((str(digit), "") for digit in (4, 5, 6)),
    ("½", "and a half"),
    *((str(digit), "") for digit in (7, 8, 9)),
    (".", "Point"),
    ("0", ""),
)


# Kept on the phone alone: one that forgot the page for want of memory shows it without a network.
@cache_control(private=True, no_cache=True)
@require_GET
def log(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """One shot after the other on a phone; the script asks the API, also later."""
    session = _session(request, pk)
    watched = _wanted(session)
    fields = [_stepper(name) for name in _STEPS]
    unwatched = [field for field in fields if field["name"] not in watched]
    context = {
        "session": session,
        "data": _data(session),
        "watched": [field for field in fields if field["name"] in watched],
        "unwatched": unwatched,
        "more_words": ", ".join([*(BY_NAME[f["name"]].label.lower() for f in unwatched), "note"]),
        "pin_rows": _PIN_ROWS,
        "misses": Shot.Miss.choices,
        "pad_keys": _PAD_KEYS,
    }
    return render(request, "lanes/shots/log.html", context)


@require_GET
def table(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """All shots as a grid for the keyboard; saved row by row through the API."""
    session = _session(request, pk)
    everything = request.GET.get("columns") == "all"
    data = _data(session)
    data["shown"] = [
        column.name
        for column in COLUMNS
        if column.name not in _NOT_TYPED and (everything or column.name in _wanted(session))
    ]
    context = {
        "session": session,
        "data": data,
        "everything": everything,
        "columns": [BY_NAME[name] for name in data["shown"]],
    }
    return render(request, "lanes/shots/table.html", context)


@require_GET
def export(request: HttpRequest, pk: uuid.UUID, kind: str) -> HttpResponse:
    """The session's shots as a file, with the columns that we do not know but kept."""
    session = _session(request, pk)
    rows = shots.live_shots(session)
    logged = [shots.logged_shot(shot) for shot in rows]
    kept = {shot.number: shot.extra for shot in rows if shot.extra}
    if kind == "csv":
        # With a byte-order mark, or spreadsheets guess the encoding.
        body, mime = write_csv(logged, kept).encode("utf-8-sig"), "text/csv; charset=utf-8"
    elif kind == "xlsx":
        body = write_xlsx(logged, kept)
        mime = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
    else:
        raise Http404
    day = timezone.localtime(session.block.starts_at).strftime("%Y-%m-%d")
    return download(body, f"{session.client.name} {day}", f".{kind}", mime)


def _session(request: HttpRequest, pk: uuid.UUID) -> Session:
    mine = Session.objects.visible_to(request.user).select_related("client", "block__centre")
    return get_object_or_404(mine, pk=pk)


def _stepper(name: str) -> dict[str, Any]:
    step, sign, words = _STEPS[name]
    label = _SHORT.get(name, BY_NAME[name].label)
    return {"name": name, "label": label, "step": step, "step_sign": sign, "step_words": words}


def _wanted(session: Session) -> set[str]:
    names = {*_ALWAYS, *session.watch}
    return names | {other for name in names for other in _ALONG.get(name, ())}


def _data(session: Session) -> dict[str, Any]:
    """Return what the page's script works on."""
    return {
        "session": str(session.pk),
        "client": session.client.name,
        "hand": session.hand,
        "competition": session.block.is_competition,
        "login_url": f"{reverse('login')}?next={reverse('lanes:log', args=[session.pk])}",
        "watch": session.watch,
        "balls": [
            {"label": ball.label, "spare": ball.is_spare_ball} for ball in session.balls.all()
        ],
        "lanes": sorted(lane.number for lane in session.block.lanes.all()),
        "columns": {
            column.name: {
                "label": column.label,
                "kind": column.kind.name,
                "low": column.low,
                "high": column.high,
                "unit": column.unit,
                "choices": column.choices,
                "expected": column.expected,
            }
            for column in COLUMNS
        },
        "shots": [shots.as_row(shot) for shot in shots.live_shots(session)],
    }
