"""The student's and the guardians' side: what was sent to them, and what they send back."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from clients import tickets
from clients.models import Client
from lanes import report_page, reports
from lanes.models import Answer, Homework, Receipt, Report

ANSWER_LIMIT = Answer._meta.get_field("text").max_length


@require_GET
def portal(request: HttpRequest) -> HttpResponse:
    """Sent reports of the user and of their wards, newest first, and the homework still open."""
    newest = list(
        reports.newest_versions(Report.objects.sent_to(request.user))
        .select_related("session__client", "session__block__centre", "sent_by")
        .order_by("-sent_at")
    )
    read = set(Receipt.objects.filter(user=request.user).values_list("report_id", flat=True))
    homework = Homework.objects.filter(report__in=newest, done_at=None).select_related(
        "report__session__client"
    )
    ctx = {
        "reports": [(report, report.pk in read) for report in newest],
        "homework": homework.order_by("due_on", "report", "position"),
        "tickets": tickets.of_person_open(request.user),
        "has_wards": request.user.wards.exists(),
        "arsenals": Client.objects.own_or_wards(request.user)
        .filter(balls__isnull=False)
        .order_by("name"),
        "gets_letters": bool(request.user.email and settings.EMAIL_HOST),
    }
    return render(request, "portal/portal.html", ctx)


def _addressed(request: HttpRequest, pk: int) -> Report:
    """Return the sent report, if it went to the user or their ward; 404 otherwise."""
    addressed = Report.objects.sent_to(request.user).select_related(
        "reading", "sent_by", "session__client__coach", "session__block__centre"
    )
    return get_object_or_404(addressed, pk=pk)


@require_GET
def portal_report(request: HttpRequest, pk: int) -> HttpResponse:
    return _show(request, _addressed(request, pk))


def _show(
    request: HttpRequest, report: Report, *, text: str = "", key: str = "", error: str = ""
) -> HttpResponse:
    ctx = report_page.student_context(report) | {
        "homework": report.homework.all(),
        "answers": report.answers.select_related("author"),
        "receipt": report.receipts.filter(user=request.user).first(),
        "newer": reports.newer_version(report),
        "text": text,
        "key": key or str(uuid.uuid4()),
        "error": error,
        "limit": ANSWER_LIMIT,
        "is_own": report.session.client.user_id == request.user.pk,
    }
    return render(request, "portal/report.html", ctx, status=400 if error else 200)


@require_POST
def portal_read(request: HttpRequest, pk: int) -> HttpResponse:
    report = _addressed(request, pk)
    reports.mark_read(report, by=request.user)
    return redirect("portal_report", pk=report.pk)


@require_POST
def portal_answer(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep an answer under the key that its form carries, so that a retry adds nothing."""
    report = _addressed(request, pk)
    text = request.POST.get("text", "").replace("\0", "").replace("\r\n", "\n").strip()
    try:
        key = uuid.UUID(request.POST.get("key", ""))
    except ValueError:
        key = uuid.uuid4()
    error = ""
    if not text:
        error = "Write a few words first."
    elif len(text) > ANSWER_LIMIT:
        error = f"This is {len(text)} characters long; {ANSWER_LIMIT} fit. Please shorten it."
    if error:
        return _show(request, report, text=text, key=str(key), error=error)
    _, new = reports.answer(report, by=request.user, key=key, text=text)
    if new:
        coach = report.session.client.coach or report.sent_by
        messages.success(request, f"Sent to {coach.name}." if coach else "Sent.")
    return redirect(reverse("portal_report", args=[report.pk]) + "#answers")


@require_POST
def portal_homework_done(request: HttpRequest, pk: int) -> HttpResponse:
    """Tick homework, or take the tick back; the form says which, so a double tap is one."""
    sent = Report.objects.sent_to(request.user)
    homework = get_object_or_404(Homework.objects.filter(report__in=sent), pk=pk)
    reports.set_homework_done(homework, done=request.POST.get("done") == "yes")
    return redirect(reverse("portal_report", args=[homework.report_id]) + "#homework")
