"""A log file from upload over its preview into a session."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from clients.gates import coaches_only
from clients.models import Client, User
from lanes import imports, sessions
from lanes.forms.sessions import ImportNewForm, LogFileForm
from lanes.models import ImportDraft, Session
from lanes.shotlog import NAMES, LogFileError

_ADD, _NONE, _IS = "add", "none", "is:"


@require_http_methods(["GET", "POST"])
def upload(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """A log file for a session that is in the books."""
    mine = Session.objects.visible_to(request.user).select_related("client", "block__centre")
    session = get_object_or_404(mine, pk=pk)
    form = LogFileForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        file = form.cleaned_data["file"]
        try:
            draft = imports.keep_upload(
                session=session, filename=file.name, data=file.read(), by=request.user
            )
        except LogFileError as error:
            form.add_error("file", str(error))
        else:
            return redirect("lanes:import_preview", draft.pk)
    return render(
        request, "lanes/imports/upload.html", {"session": session, "form": form, "names": NAMES}
    )


@coaches_only
@require_http_methods(["GET", "POST"])
def import_new(request: HttpRequest) -> HttpResponse:
    """A log file of a session that is not in the books yet: both in one form."""
    form = ImportNewForm(
        request.POST or None,
        request.FILES or None,
        user=request.user,
        facts=sessions.last_facts(request.user),
        initial={
            "id": uuid.uuid4(),
            "client": request.GET.get("client"),
            "starts_at": timezone.localtime(),
        },
    )
    if request.method == "POST" and form.is_valid():
        try:
            draft = _start_with_file(form, request.user)
        except LogFileError as error:
            form.add_error("file", str(error))
        else:
            return redirect(reverse("lanes:import_preview", args=[draft.pk]) + "?new=1")
    return render(request, "lanes/imports/new.html", {"form": form, "names": NAMES})


@require_http_methods(["GET", "POST"])
def import_preview(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """What taking the file would do; nothing of it counts before the coach's yes."""
    mine = ImportDraft.objects.visible_to(request.user).filter(session__deleted_at=None)
    draft = get_object_or_404(
        mine.select_related("session__client", "session__block__centre"), pk=pk
    )
    session = draft.session
    if draft.applied_at is not None:
        messages.info(request, f"{draft.filename} was imported already; nothing is doubled.")
        return redirect("lanes:session", session.pk)
    if request.method == "POST" and request.POST.get("choice") == "discard":
        with_session = request.POST.get("new") == "1"
        imports.discard(draft=draft, by=request.user, with_session=with_session)
        messages.info(request, "Nothing was imported.")
        kept = Session.objects.visible_to(request.user).filter(pk=session.pk).exists()
        return redirect("lanes:session", session.pk) if kept else redirect("lanes:sessions")
    found = imports.preview(draft)
    if request.method == "POST":
        taken = imports.take(
            draft=draft,
            by=request.user,
            update_changed=request.POST.get("update") == "1",
            balls=_mapping(request.POST, found.strange_balls),
        )
        messages.success(request, _words(taken))
        return redirect("lanes:session", session.pk)
    context = {
        "draft": draft,
        "session": session,
        "found": found,
        "balls": list(session.balls.all()),
        "known_names": set(session.client.balls.values_list("name", flat=True)),
        "is_new": request.GET.get("new") == "1",
    }
    return render(request, "lanes/imports/preview.html", context)


def _start_with_file(form: ImportNewForm, user: User) -> ImportDraft:
    """Start the session only once the file has shown to be a log."""
    data = form.cleaned_data
    content = data["file"].read()
    columns = imports.read_upload(content, data["file"].name).columns
    client: Client = data["client"]
    session, _ = sessions.start_session(
        by=user,
        client=client,
        block=form.facts(),
        balls=client.balls.filter(retired_at=None).prefetch_related("surfaces"),
        # What the file has is what was watched that day.
        watch=columns,
        key=data["id"],
        told=data["values"],
    )
    return imports.keep_upload(session=session, filename=data["file"].name, data=content, by=user)


def _mapping(post: QueryDict, labels: tuple[str, ...]) -> dict[str, str]:
    """Return what the coach said about labels that are not at hand; those to be added are left
    out."""
    mapping = {}
    for label in labels:
        answer = post.get(f"ball:{label}", _ADD)
        if answer == _NONE:
            mapping[label] = ""
        elif answer.startswith(_IS):
            mapping[label] = answer.removeprefix(_IS)
    return mapping


def _words(taken: imports.Taken) -> str:
    parts = []
    if taken.new:
        parts.append(f"{taken.new} shot{'' if taken.new == 1 else 's'} imported")
    if taken.changed:
        parts.append(f"{taken.changed} changed")
    return (", ".join(parts) or "Nothing new in the file") + "."
