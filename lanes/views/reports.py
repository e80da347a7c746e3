"""The transition report on the coach's side: look, edit, send, revise."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from lanes import report_page, reports
from lanes.forms.reports import DraftForms
from lanes.models import Report
from lanes.models.reports import Frozen

OVERTAKEN = (
    "Somebody else, or a new reading, changed this draft after you opened it. Your words are still "
    "here below; look at the draft as it is now, then save again to keep yours."
)
FROZEN = "This report has been sent and is frozen. Make a new version to change it."


def _coached(request: HttpRequest, pk: int) -> Report:
    """Return the report, if the user coaches its client; 404 otherwise."""
    coached = Report.objects.coached_by(request.user).select_related(
        "reading",
        "sent_by",
        "session__client__coach",
        "session__client__user",
        "session__block__centre",
        "session__block__pattern",
    )
    return get_object_or_404(coached, pk=pk)


@require_GET
def report(request: HttpRequest, pk: int) -> HttpResponse:
    report = _coached(request, pk)
    ctx = report_page.context(report) | {
        "versions": report.session.reports.order_by("version"),
        "homework": report.homework.all(),
        "answers": report.answers.select_related("author"),
        "new_answers": reports.new_answers(request.user, report=report),
        "readers": reports.readers(report),
    }
    return render(request, "lanes/report.html", ctx)


@require_http_methods(["GET", "POST"])
def report_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """The coach's words, the options and the homework in one form; every POST keeps what it has."""
    report = _coached(request, pk)
    if report.is_sent:
        messages.warning(request, FROZEN)
        return redirect("lanes:report", pk=report.pk)
    forms = DraftForms(report, request.POST or None)
    status = 200
    if request.method == "POST" and forms.is_change_of_shape:
        forms = forms.reshaped()
    elif request.method == "POST" and forms.is_valid():
        try:
            reports.save_draft(report, by=request.user, **forms.cleaned())
        except reports.Overtaken:
            forms = forms.reopened(Report.objects.get(pk=report.pk))
            messages.error(request, OVERTAKEN)
            status = 409
        except Frozen:
            messages.error(request, FROZEN)
            status = 409
        else:
            messages.success(request, "Saved.")
            page = "lanes:report_send" if "send" in request.POST else "lanes:report"
            return redirect(page, pk=report.pk)
    elif request.method == "POST":
        status = 400
    ctx = {"report": report, "forms": forms, "verdict": report.reading.data["verdict"]}
    return render(request, "lanes/report_edit.html", ctx, status=status)


@require_http_methods(["GET", "POST"])
def report_send(request: HttpRequest, pk: int) -> HttpResponse:
    """Show who will get the report and how it will look, then send it."""
    report = _coached(request, pk)
    if request.method == "POST":
        try:
            report = reports.send(report, by=request.user)
        except reports.NotSendable:
            pass  # the page says what is missing
        else:
            messages.success(request, "Sent. The report is frozen now.")
    if report.is_sent:
        return redirect("lanes:report", pk=report.pk)
    missing = reports.what_is_missing(report)
    ctx = report_page.student_context(report) | {
        "recipients": reports.recipients(report.session.client),
        "client": report.session.client,
        "missing": missing,
        "homework": report.homework.all(),
    }
    status = 400 if request.method == "POST" else 200
    return render(request, "lanes/report_send.html", ctx, status=status)


@require_POST
def report_revise(request: HttpRequest, pk: int) -> HttpResponse:
    """Make the next version of a sent report; a draft just goes on being edited."""
    report = _coached(request, pk)
    if report.is_sent:
        report = reports.revise(report, by=request.user)
    return redirect("lanes:report_edit", pk=report.pk)


@require_POST
def report_seen(request: HttpRequest, pk: int) -> HttpResponse:
    """The coach has seen the answers on this report."""
    report = _coached(request, pk)
    reports.mark_answers_seen(report, by=request.user)
    if request.POST.get("from") == "report":
        return redirect("lanes:report", pk=report.pk)
    return redirect("today")
