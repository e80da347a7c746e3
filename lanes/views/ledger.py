"""The ledger, the marks that feed it, and what the coach overrules."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from clients.gates import coaches_only
from clients.views.asked import asked_key
from lanes import ledger, ledger_page, reports
from lanes.models import Advice, Overruling, Report, Session, Shot, TakenAdvice


@coaches_only
@require_GET
def ledger_view(request: HttpRequest) -> HttpResponse:
    """What was advised and whether it paid; the coach's own students, the owner's all."""
    options = ledger_page.choices(request.user)
    client = coach = None
    if request.GET.get("client"):
        key = asked_key(request.GET["client"])
        client = get_object_or_404(options["clients"], pk=key)
    if request.GET.get("coach"):
        coach = get_object_or_404(options["coaches"], pk=asked_key(request.GET["coach"]))
    version = request.GET.get("version", "")
    filters = ledger_page.Filters(
        client=client.pk if client else None,
        coach=coach.pk if coach else None,
        version=version if version in options["versions"] else "",
    )
    ctx = options | ledger_page.context(request.user, filters)
    return render(request, "lanes/ledger.html", ctx)


@require_POST
def advice_taken(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """From this shot of this session on the student did it."""
    mine = Session.objects.visible_to(request.user).select_related("block")
    session = get_object_or_404(mine, pk=pk)
    advice = get_object_or_404(
        Advice.objects.visible_to(request.user).select_related(
            "suggestion__report__session__block"
        ),
        pk=asked_key(request.POST.get("advice")),
        suggestion__report__session__client=session.client_id,
    )
    try:
        from_shot = int(request.POST.get("from_shot", ""))
    except ValueError:
        from_shot = 0
    try:
        row = ledger.take(advice, session=session, from_shot=from_shot, by=request.user)
    except ValidationError as error:
        messages.error(request, error.messages[0])
    else:
        messages.success(request, f"Marked: {row}.")
    return redirect(f"{reverse('lanes:session', args=[session.pk])}#advice")


@require_POST
def advice_undo(request: HttpRequest, pk: int) -> HttpResponse:
    """Take the mark out again."""
    mine = TakenAdvice.objects.visible_to(request.user).select_related("advice__suggestion")
    row = get_object_or_404(mine, pk=pk)
    ledger.undo(row, by=request.user)
    messages.success(request, "The mark is taken out.")
    return redirect(f"{reverse('lanes:session', args=[row.session_id])}#advice")


@require_POST
def advice_not_taken(request: HttpRequest, pk: int) -> HttpResponse:
    """The student did not do it; `undo` takes that back. `session` is the page to go back to."""
    mine = Advice.objects.visible_to(request.user)
    advice = get_object_or_404(mine.select_related("suggestion__report"), pk=pk)
    ledger.set_not_taken(advice, not_taken="undo" not in request.POST, by=request.user)
    back = Session.objects.visible_to(request.user).filter(
        pk=_uuid(request.POST.get("session")), client=advice.suggestion.report.session.client_id
    )
    session = back.first() or advice.suggestion.report.session
    return redirect(f"{reverse('lanes:session', args=[session.pk])}#advice")


@require_POST
def overrule(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep what the coach says against the reading of a report's session."""
    coached = Report.objects.coached_by(request.user).select_related("session")
    report = get_object_or_404(coached, pk=pk)
    kind = request.POST.get("kind", "")
    value = request.POST.get("value", "")
    shot = None
    if kind == "shot":  # one list holds the verdict and the cause
        kind, _, value = value.partition(":")
        live = Shot.objects.live().filter(session=report.session_id)
        number = request.POST.get("shot", "")
        shot = live.filter(number=number).first() if number.isdecimal() else None
    since = request.POST.get("from_shot", "")
    try:
        reports.overrule(
            session=report.session,
            by=request.user,
            kind=kind,
            value=value,
            shot=shot,
            from_shot=int(since) if since.isdecimal() and len(since) < 6 else None,
            hooks=request.POST.get("hooks", ""),
            reason=request.POST.get("reason", ""),
        )
    except ValidationError as error:
        messages.error(request, error.messages[0])
    else:
        then = " It counts when the session is read again." if shot else ""
        messages.success(request, f"Kept beside the reading, which stays as it was computed.{then}")
    return redirect(f"{reverse('lanes:report', args=[report.pk])}#overruled")


@require_POST
def overruling_withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """Let the reading's own verdict hold again."""
    mine = Overruling.objects.visible_to(request.user).select_related("session")
    row = get_object_or_404(mine.filter(session__deleted_at=None), pk=pk)
    reports.withdraw_overruling(row, by=request.user)
    messages.success(request, "The reading's own verdict holds again.")
    newest = row.session.reports.order_by("-version").first()
    if newest is None:
        return redirect("lanes:session", pk=row.session_id)
    return redirect(f"{reverse('lanes:report', args=[newest.pk])}#overruled")


def _uuid(text: str | None) -> uuid.UUID | None:
    try:
        return uuid.UUID(text or "")
    except ValueError:
        return None
