"""Who gets what at every address: one line an address, one status a person.

The rule. Every pattern of the URL resolver has a line here, or the walk fails and names it. A line:

    row("clients:detail", "olive carl", kw=lambda w: {"pk": w.sam_client.pk})

means: with this name and these arguments, Olive and Carl get 200, whoever else logs in gets 404 (a
thing that is not yours does not exist), and who is not logged in is sent to the log-in. Where that
is not so, say it:

    redirect="sam gina"     these get 302
    forbidden="gina"        these get 403: they see the thing, but it is not theirs to change
    rest=200                what everybody else gets
    anonymous=200           what a browser without a log-in gets (the API says 403)
    method="post"           the page only takes POST; it is sent `data` by each person in turn, and
                            what it did is taken back before the next. "200" then reads: 302, the
                            page was changed and the browser sent on. Add `done=` for another code,
                            `as_json=True` for the API.

Several lines may stand for one name: Carl's client and Dora's, a draft and a sent report.
`w` is the `world` of tests/people/conftest.py: the cast of tests/conftest.py, and what hangs on it.
That a GET writes nothing is no option: the walk asserts it for every line.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any

PEOPLE = ("olive", "carl", "dora", "otto", "sam", "wendy", "gina", "nick")
EVERYBODY = " ".join(PEOPLE)
STAFF = "olive carl dora otto"
COACHES = "olive carl dora"
NOBODY = ""

Arguments = Callable[[SimpleNamespace], dict[str, Any]]


@dataclass(frozen=True)
class Row:
    name: str
    arguments: Arguments
    expected: dict[str, int]
    method: str = "get"
    data: Callable[[SimpleNamespace], dict[str, Any]] = field(default=lambda w: {})
    query: str = ""
    as_json: bool = False

    def __str__(self) -> str:
        good = "+".join(who for who in PEOPLE if self.expected[who] < 400)
        return f"{self.method} {self.name}{self.query} for {good or 'nobody'}"


def row(
    name: str,
    allowed: str = NOBODY,
    *,
    kw: Arguments = lambda w: {},
    redirect: str = "",
    forbidden: str = "",
    rest: int = 404,
    anonymous: int = 302,
    method: str = "get",
    data: Arguments = lambda w: {},
    done: int | None = None,
    query: str = "",
    as_json: bool = False,
) -> Row:
    expected = dict.fromkeys(PEOPLE, rest)
    expected |= dict.fromkeys(forbidden.split(), 403)
    expected |= dict.fromkeys(redirect.split(), 302)
    good = done or (302 if method == "post" else 200)
    expected |= dict.fromkeys(allowed.split(), good)
    unknown = set(expected) - set(PEOPLE)
    assert not unknown, f"{name}: nobody of the cast is called {unknown}"
    expected["anonymous"] = anonymous
    return Row(name, kw, expected, method, data, query, as_json)


def _pk(thing: str) -> Arguments:
    """Arguments of an address that names one thing of the world by its key."""
    return lambda w: {"pk": getattr(w, thing).pk}


def _event(w: SimpleNamespace) -> dict[str, Any]:
    return {"pk": w.ball.pk, "event": w.event.pk}


def _reading(w: SimpleNamespace) -> dict[str, Any]:
    return {"pk": w.ball.pk, "reading": w.cover_reading.pk}


HOUSE = [
    row("healthz", EVERYBODY, anonymous=200),
    row("schema", EVERYBODY, anonymous=403),
    row("today", STAFF, redirect="sam wendy gina nick"),
    row("login", redirect=EVERYBODY, anonymous=200),
    row("logout", EVERYBODY, method="post", anonymous=302),
    row("account", EVERYBODY),
    row("change_password", EVERYBODY),
    row("set_password", EVERYBODY, kw=lambda w: w.password_link, anonymous=200),
    row("set_password", rest=410, kw=lambda w: {"uid": "MQ", "token": "x"}, anonymous=410),
]

PEOPLE_ROWS = [
    row("clients:people", COACHES),
    row("clients:person", "olive carl", kw=_pk("sam")),
    row("clients:person", "olive carl", kw=_pk("gina")),
    row("clients:person", "olive", kw=_pk("nick")),
    row(
        "clients:person_roles",
        "olive",
        kw=_pk("sam"),
        forbidden="carl",
        method="post",
        data=lambda w: {"roles": ["operator"]},
    ),
    row("clients:person_close", "olive", kw=_pk("sam"), forbidden="carl", method="post"),
    row("clients:person_open", "olive", kw=_pk("sam"), forbidden="carl", method="post"),
    row("clients:person_password", "olive carl", kw=_pk("sam"), method="post"),
    row("clients:person_password", "olive", kw=_pk("gina"), forbidden="carl", method="post"),
    row("clients:letters", COACHES),
    row("clients:invite", COACHES),
    row("clients:invite", COACHES, query="?client={sam_client.pk}"),
    row("clients:invitation", "olive carl", kw=_pk("invitation")),
    row("clients:invitation_renew", "olive carl", kw=_pk("invitation"), method="post"),
    row("clients:invitation_revoke", "olive carl", kw=_pk("invitation"), method="post"),
    row("clients:join", EVERYBODY, kw=lambda w: {"token": w.token}, anonymous=200),
    row("clients:join", kw=lambda w: {"token": "made-up"}, anonymous=404),
    row("clients:join", rest=410, kw=lambda w: {"token": w.old_token}, anonymous=410),
    row("clients:wards", EVERYBODY),
    row("clients:consents", "olive carl gina", kw=_pk("guardianship")),
    row(
        "clients:consents",
        "gina",
        kw=_pk("guardianship"),
        forbidden="olive carl",
        method="post",
        data=lambda w: {"kind": "account", "action": "revoke"},
    ),
]

RECORDS = [
    row("clients:list", COACHES),
    row("clients:new", COACHES),
    row("clients:detail", "olive carl", kw=_pk("sam_client")),
    row("clients:detail", "olive carl", kw=_pk("wendy_client")),
    row("clients:detail", "olive dora", kw=_pk("tess_client")),
    row("clients:edit", "olive carl", kw=_pk("sam_client")),
    row(
        "clients:edit",
        "olive carl",
        kw=_pk("sam_client"),
        method="post",
        data=lambda w: {"name": "Sam", "hand": "left", "hook": "usual", "style": "one"},
    ),
    row("clients:facts", "olive carl", kw=_pk("sam_client")),
    row("clients:copy", "olive carl otto sam", kw=_pk("sam_client")),
    row("clients:copy", "olive carl otto wendy gina", kw=_pk("wendy_client")),
    row("clients:copy", "olive carl otto sam", kw=_pk("sam_client"), method="post", done=200),
    row("clients:delete", "olive", kw=_pk("sam_client")),
    row(
        "clients:delete",
        "olive",
        kw=_pk("sam_client"),
        method="post",
        data=lambda w: {"name": "Sam"},
    ),
    row("clients:stock", STAFF),
    row("clients:stock_csv", STAFF),
    row("clients:stock_ball", STAFF, kw=_pk("stock")),
    row("clients:stock_new", "olive otto"),
    row(
        "clients:stock_new",
        "olive otto",
        method="post",
        data=lambda w: {"name": "Salt Lamp", "cover": "solid", "quantity": 1},
    ),
    row("clients:stock_edit", "olive otto", kw=_pk("stock")),
    row(
        "clients:stock_edit",
        "olive otto",
        kw=_pk("stock"),
        method="post",
        data=lambda w: {"name": "Fog Bell", "cover": "pearl", "quantity": 0},
    ),
    row("clients:stock_remove", "olive otto", kw=_pk("stock"), method="post"),
    row("clients:stock_import", "olive otto"),
    # A file that waits is of the one who sent it.
    row("clients:stock_preview", "otto", kw=_pk("stock_draft")),
    row(
        "clients:stock_preview",
        "otto",
        kw=_pk("stock_draft"),
        method="post",
        data=lambda w: {"choice": "take"},
    ),
    row("clients:stock_sell", "olive otto", kw=_pk("stock")),
    row(
        "clients:stock_sell_to",
        "olive otto",
        kw=lambda w: {"pk": w.stock.pk, "client": w.sam_client.pk},
    ),
    row(
        "clients:stock_sell_to",
        "olive otto",
        kw=lambda w: {"pk": w.stock.pk, "client": w.sam_client.pk},
        method="post",
        data=lambda w: {"key": uuid.uuid4(), "name": "Fog Bell"},
    ),
    row("clients:sale_undo", "olive otto", kw=_pk("sale"), method="post"),
    row("clients:gear", STAFF),
    row("clients:rules", STAFF),
    row("clients:fit", "olive carl otto sam", kw=_pk("sam_client")),
    row("clients:fit", "olive carl otto wendy gina", kw=_pk("wendy_client")),
    row("clients:fit_new", "olive carl otto", kw=_pk("sam_client")),
    row(
        "clients:fit_new",
        "olive carl otto",
        kw=_pk("sam_client"),
        method="post",
        data=lambda w: {
            "grip": "no_thumb",
            "made_on": "2026-01-05",
            "middle-size_in": "15/16",
            "middle-span_in": "4 3/8",
        },
    ),
    row("clients:layout_new", "olive carl otto", kw=_pk("ball")),
    row(
        "clients:layout_new",
        "olive carl otto",
        kw=_pk("ball"),
        method="post",
        data=lambda w: {
            "by": "angles",
            "pap_over_in": "5",
            "pap_up_in": "0",
            "pin_to_pap_in": "4",
            "angle_at_pap_deg": "45",
        },
    ),
    row("lanes:layout", "olive carl otto sam", kw=_pk("layout")),
    row("clients:layout_edit", "olive carl otto", kw=_pk("layout")),
    row("clients:layout_remove", "olive carl otto", kw=_pk("layout"), method="post"),
    row("clients:layout_drilled", "olive carl otto", kw=_pk("layout"), method="post"),
    row("clients:fit_sheet", "olive carl otto sam", kw=_pk("fit")),
    row("clients:axis_point_new", "olive carl otto", kw=_pk("sam_client")),
    row(
        "clients:axis_point_new",
        "olive carl otto",
        kw=_pk("sam_client"),
        method="post",
        data=lambda w: {"method": "ring", "measured_on": "2026-01-05", "over_1": "5"},
    ),
    row("clients:walkin_new", "olive otto"),
    row(
        "clients:walkin_new",
        "olive otto",
        method="post",
        data=lambda w: {"name": "Walt", "hand": "right", "style": "one"},
    ),
    row("clients:ball_new", "olive carl otto", kw=_pk("sam_client")),
    row("clients:ball", "olive carl otto sam", kw=_pk("ball")),
    row("clients:ball", "olive dora otto", kw=_pk("tess_ball")),
    row("clients:ball_edit", "olive carl otto", kw=_pk("ball")),
    row(
        "clients:ball_edit",
        "olive carl otto",
        kw=_pk("ball"),
        method="post",
        data=lambda w: {"name": "A", "cover": "pearl"},
    ),
    row("clients:surface_add", "olive carl otto", kw=_pk("ball")),
    row(
        "clients:surface_add",
        "olive carl otto",
        kw=_pk("ball"),
        method="post",
        data=lambda w: {"grit": 1000, "done_on": "2026-01-05"},
    ),
    row("clients:event_add", "olive carl otto", kw=_pk("ball")),
    row("clients:event_add", "olive carl otto", kw=_pk("ball"), query="?kind=cleaned"),
    row(
        "clients:event_add",
        "olive carl otto",
        kw=_pk("ball"),
        method="post",
        data=lambda w: {"kind": "games", "on": "2026-01-05", "games": 3},
    ),
    row("clients:event_remove", "olive carl otto", kw=_event, method="post"),
    row("clients:reading_add", "olive carl otto", kw=_pk("ball")),
    row(
        "clients:reading_add",
        "olive carl otto",
        kw=_pk("ball"),
        method="post",
        data=lambda w: {"number": 1500, "read_on": "2026-01-05"},
    ),
    row("clients:reading_remove", "olive carl otto", kw=_reading, method="post"),
    row("clients:pass_on", "olive carl otto", kw=_pk("ball")),
    row(
        "clients:pass_on",
        "olive dora otto",
        kw=_pk("tess_ball"),
        method="post",
        data=lambda w: {"to": w.tess_client.pk, "on": "2026-01-05"},
    ),
    row("clients:ball_retire", "olive carl otto", kw=_pk("ball"), method="post"),
    row("clients:ball_unretire", "olive carl otto", kw=_pk("ball"), method="post"),
    row("lanes:numbers", EVERYBODY),
    row("lanes:centres", STAFF),
    row("lanes:centre_new", COACHES),
    row("lanes:centre", STAFF, kw=_pk("centre")),
    row("lanes:centre_edit", COACHES, kw=_pk("centre")),
    row(
        "lanes:centre_lanes",
        COACHES,
        kw=_pk("centre"),
        method="post",
        data=lambda w: {"lanes": "1-4", "do": "add"},
    ),
    row("lanes:patterns", STAFF),
    row("lanes:pattern_import", COACHES),
    row(
        "clients:new",
        COACHES,
        method="post",
        data=lambda w: {"name": "Uma", "hand": "right", "hook": "usual", "style": "one"},
    ),
    row(
        "clients:ball_new",
        "olive carl otto",
        kw=_pk("sam_client"),
        method="post",
        data=lambda w: {"name": "New", "cover": "pearl"},
    ),
    row(
        "lanes:centre_new",
        COACHES,
        method="post",
        data=lambda w: {"name": "Other Lanes", "speed_reading": "unknown"},
    ),
    row(
        "lanes:centre_edit",
        COACHES,
        kw=_pk("centre"),
        method="post",
        data=lambda w: {"name": "Test Lanes", "speed_reading": "pins"},
    ),
    row(
        "lanes:pattern_import",
        COACHES,
        method="post",
        data=lambda w: {"name": "Sheet", "text": w.sheet, "step": "save"},
    ),
    row("lanes:surface_plan", STAFF),
    row("lanes:surface_plan", STAFF, query="?q=sam"),
    row("lanes:ball_plan", "olive carl otto", kw=_pk("ball")),
    row("lanes:ball_plan", "olive carl otto", kw=_pk("ball"), query="?hook=31"),
    row("lanes:ball_plan", "olive dora otto", kw=_pk("tess_ball")),
    row(
        "lanes:plan_ticket",
        "olive carl otto",
        kw=_pk("ball"),
        method="post",
        data=lambda w: {"key": uuid.uuid4(), "kind": "resurface", "grit": 800},
    ),
    row("lanes:arsenal", "olive carl otto sam", kw=_pk("sam_client")),
    row("lanes:arsenal", "olive carl otto wendy gina", kw=_pk("wendy_client")),
    row("lanes:arsenal", "olive dora otto", kw=_pk("tess_client")),
    row("lanes:new_ball", "olive carl otto", kw=_pk("sam_client")),
    row("lanes:new_ball", "olive carl otto", kw=_pk("wendy_client")),
    row("lanes:new_ball", "olive dora otto", kw=_pk("tess_client")),
    row("lanes:new_ball_ask", "olive carl otto", kw=_pk("sam_client"), method="post"),
    row("lanes:new_ball_progress", redirect="olive carl otto", kw=_pk("sam_client")),
    row("lanes:try_shot", STAFF),
    row("lanes:try_shot", "olive carl otto", query="?client={sam_client.pk}&b1-ball={ball.pk}"),
    row("lanes:try_shot", "olive dora otto", query="?client={tess_client.pk}"),
    row("lanes:try_shot", "olive dora otto", query="?b2-ball={tess_ball.pk}"),
    row("lanes:try_shot", STAFF, query="?oil={pattern.pk}"),
    row("lanes:try_shot", redirect=STAFF, query="?fill=1&client={tess_client.pk}"),
    row("lanes:rack", STAFF),
    row("lanes:pattern", STAFF, kw=_pk("pattern")),
    row("lanes:pattern_csv", STAFF, kw=_pk("pattern")),
]
SESSIONS = [
    row("lanes:sessions", COACHES),
    row("lanes:sessions", "olive carl", query="?client={sam_client.pk}"),
    row("lanes:session_start", COACHES),
    row("lanes:session_start", "olive carl", query="?client={sam_client.pk}"),
    row("lanes:session_start", "olive dora", query="?client={tess_client.pk}&block=new"),
    row(
        "lanes:session_start",
        "olive carl",
        query="?client={sam_client.pk}&block={block.pk}",
        method="post",
        data=lambda w: {"id": uuid.uuid4(), "watch": ["arrows"]},
    ),
    row("lanes:session", "olive carl", kw=_pk("session")),
    row("lanes:session", "olive dora", kw=_pk("tess_session")),
    row("lanes:session_edit", "olive carl", kw=_pk("session")),
    row(
        "lanes:session_edit",
        "olive carl",
        kw=_pk("session"),
        method="post",
        data=lambda w: {"watch": ["arrows"], "note": "Calm."},
    ),
    row(
        "lanes:session_ball_add",
        "olive carl",
        kw=_pk("session"),
        method="post",
        data=lambda w: {"ball": w.ball.pk},
    ),
    row("lanes:session_delete", "olive carl", kw=_pk("session"), method="post"),
    row("lanes:log", "olive carl", kw=_pk("session")),
    row("lanes:table", "olive carl", kw=_pk("session")),
    row("lanes:export", "olive carl", kw=lambda w: {"pk": w.session.pk, "kind": "csv"}),
    row("lanes:export", "olive carl", kw=lambda w: {"pk": w.session.pk, "kind": "xlsx"}),
    row("lanes:export", kw=lambda w: {"pk": w.session.pk, "kind": "doc"}),
    row("lanes:import", "olive carl", kw=_pk("session")),
    row("lanes:import", "olive carl", kw=_pk("session"), method="post", done=200),
    row("lanes:read_again", "olive carl", kw=_pk("session")),
    row("lanes:read_again", "olive dora", kw=_pk("tess_session")),
    row(
        "lanes:read_again",
        "olive carl",
        kw=_pk("session"),
        method="post",
        data=lambda w: {
            "id": uuid.uuid4(),
            "how": "clip",
            "shot": w.read_shot.pk,
            f"{w.read_shot.pk}-arrows": "11.5",
        },
    ),
    row("lanes:reading_error", COACHES),
    row("lanes:reread_remove", "olive carl", kw=_pk("sitting"), method="post"),
    row("lanes:import_new", COACHES),
    row("lanes:import_preview", "olive carl", kw=_pk("import_draft")),
    row("lanes:import_preview", "olive carl", kw=_pk("import_draft"), method="post"),
    row("lanes:api_shots", "olive carl", kw=_pk("session"), anonymous=403),
    row("lanes:api_shots", "olive dora", kw=_pk("tess_session"), anonymous=403),
    row("lanes:api_live", "olive carl", kw=_pk("session"), anonymous=403),
    row("lanes:api_live", "olive dora", kw=_pk("tess_session"), anonymous=403),
    row(
        "lanes:api_shots",
        "olive carl",
        kw=_pk("session"),
        anonymous=403,
        method="post",
        as_json=True,
        data=lambda w: {"shot": 2, "arrows": 10.5},
        done=201,
    ),
    row(
        "lanes:api_shot",
        "olive carl",
        kw=_pk("shot"),
        anonymous=403,
        method="patch",
        as_json=True,
        data=lambda w: {"version": w.shot.version, "arrows": 11},
        done=200,
    ),
    row(
        "lanes:api_shot",
        "olive carl",
        kw=_pk("shot"),
        anonymous=403,
        method="delete",
        query="?version={shot.version}",
        done=204,
    ),
]

REPORTS = [
    row("lanes:session_read", "olive carl", kw=_pk("session"), method="post"),
    row("lanes:job", "olive carl", kw=_pk("job")),
    row("lanes:report", "olive carl", kw=_pk("draft")),
    row("lanes:what_if", "olive carl", kw=_pk("draft")),
    row("lanes:what_if", "olive carl", kw=_pk("wendys")),
    row("lanes:report", "olive carl", kw=_pk("sent")),
    row("lanes:report", "olive carl", kw=_pk("wendys")),
    row("lanes:report_edit", "olive carl", kw=_pk("draft")),
    row("lanes:report_edit", redirect="olive carl", kw=_pk("sent")),
    row("lanes:report_send", "olive carl", kw=_pk("draft")),
    row("lanes:report_send", "olive carl", kw=_pk("draft"), method="post"),
    row("lanes:report_revise", "olive carl", kw=_pk("sent"), method="post"),
    row("lanes:report_seen", "olive carl", kw=_pk("sent"), method="post"),
    row("lanes:ledger", COACHES),
    row("lanes:ledger", "olive carl", query="?client={sam_client.pk}"),
    row("lanes:ledger", "olive", query="?coach={carl.pk}"),
    row(
        "lanes:advice_taken",
        "olive carl",
        kw=_pk("session"),
        method="post",
        data=lambda w: {"advice": w.advice.pk, "from_shot": 1},
    ),
    row("lanes:advice_undo", "olive carl", kw=_pk("taken"), method="post"),
    row("lanes:advice_not_taken", "olive carl", kw=_pk("advice"), method="post"),
    row(
        "lanes:overrule",
        "olive carl",
        kw=_pk("draft"),
        method="post",
        data=lambda w: {"kind": "lane", "value": "mid", "hooks": "earlier"},
    ),
    row("lanes:overruling_withdraw", "olive carl", kw=_pk("overruling"), method="post"),
    row("portal", EVERYBODY),
    # Nothing of a draft reaches anybody by the portal, not even its coach.
    row("portal_report", kw=_pk("draft")),
    row("portal_report", "sam", kw=_pk("sent")),
    row("portal_report", "wendy gina", kw=_pk("wendys")),
    row("portal_read", kw=_pk("draft"), method="post"),
    row("portal_read", "sam", kw=_pk("sent"), method="post"),
    row("portal_read", "wendy gina", kw=_pk("wendys"), method="post"),
    row("portal_answer", kw=_pk("draft"), method="post", data=lambda w: {"text": "Hello"}),
    row("portal_answer", "sam", kw=_pk("sent"), method="post", data=lambda w: {"text": "Thanks"}),
    row(
        "portal_answer",
        "wendy gina",
        kw=_pk("wendys"),
        method="post",
        data=lambda w: {"text": "Thanks", "key": uuid.uuid4()},
    ),
    row("portal_homework_done", "wendy gina", kw=_pk("homework"), method="post"),
    row("portal_homework_done", kw=_pk("draft_homework"), method="post"),
]


def _photo(w: SimpleNamespace) -> dict[str, Any]:
    return {"pk": w.ticket.pk, "photo": w.photo.pk}


SHOP = [
    row("clients:shop", STAFF),
    row("clients:shop", STAFF, query="?show=closed&kind=clean&who=nobody"),
    row("clients:take_in", STAFF),
    row("clients:ticket_walk_in", "olive otto"),
    row(
        "clients:ticket_walk_in",
        "olive otto",
        method="post",
        data=lambda w: {"client_name": "Walt", "hand": "left", "kind": "clean"},
    ),
    row("clients:ticket_new", "olive carl otto", kw=_pk("sam_client")),
    row("clients:ticket_new", "olive dora otto", kw=_pk("tess_client"), query="?ball={ball.pk}"),
    row(
        "clients:ticket_new",
        "olive carl otto",
        kw=_pk("sam_client"),
        method="post",
        data=lambda w: {"key": uuid.uuid4(), "kind": "clean", "ball": w.ball.pk},
    ),
    # The key of a ticket that is another client's opens nothing.
    row(
        "clients:ticket_new",
        "olive otto",
        kw=_pk("tess_client"),
        method="post",
        data=lambda w: {"key": w.ticket.pk, "kind": "clean"},
    ),
    row("clients:ticket", "olive carl otto sam", kw=_pk("ticket")),
    row("clients:ticket", "olive carl otto wendy gina", kw=_pk("wendys_ticket")),
    row("clients:ticket_change", "olive carl otto", kw=_pk("ticket")),
    row(
        "clients:ticket_change",
        "olive carl otto",
        kw=_pk("ticket"),
        method="post",
        data=lambda w: {"kind": "oil_out", "ball": w.ball.pk},
    ),
    *(
        row(f"clients:ticket_{name}", "olive carl otto", kw=_pk("ticket"), method="post", data=data)
        for name, data in [
            ("move", lambda w: {"seen": "taken_in"}),
            ("step_back", lambda w: {"seen": "taken_in"}),
            ("drop", lambda w: {}),
            ("photo_add", lambda w: {}),
        ]
    ),
    row("clients:ticket_label", "olive carl otto", kw=_pk("ticket")),
    row("clients:ticket_photo", "olive carl otto sam", kw=_photo),
    row("clients:ticket_photo", kw=lambda w: {"pk": w.wendys_ticket.pk, "photo": w.photo.pk}),
    row("clients:ticket_photo_remove", "olive carl otto", kw=_photo, method="post"),
]

ROWS: list[Row] = [*HOUSE, *PEOPLE_ROWS, *RECORDS, *SESSIONS, *REPORTS, *SHOP]
