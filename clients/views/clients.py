"""Clients: new ones, changes, and their facts as a file. List and page stand in the shell, because
they join a client's lessons with the gear."""

from __future__ import annotations

import json

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from clients import records
from clients.forms.people import ClientForm, WalkInForm
from clients.gates import coaches_only, gear_keepers_only
from clients.models import Client
from clients.views.downloads import download


@coaches_only
@require_http_methods(["GET", "POST"])
def client_new(request: HttpRequest) -> HttpResponse:
    form = ClientForm(request.POST or None, by=request.user)
    if request.method == "POST" and form.is_valid():
        client = records.add_client(form.save(commit=False), by=request.user)
        messages.success(request, f"{client} is on file. Next: the balls, then a session.")
        return redirect("clients:detail", client.pk)
    return render(request, "clients/client_form.html", {"form": form})


@require_http_methods(["GET", "POST"])
def client_edit(request: HttpRequest, pk: int) -> HttpResponse:
    client = get_object_or_404(Client.objects.editable_by(request.user), pk=pk)
    form = ClientForm(request.POST or None, instance=client, by=request.user)
    if request.method == "POST" and form.is_valid():
        records.change_client(client, by=request.user, fields=form.changed_data)
        messages.success(request, "Saved.")
        if client.user_id and not client.may_have_account:
            messages.warning(
                request, f"{client}'s account stays closed until a guardian has agreed."
            )
        return redirect("clients:detail", client.pk)
    # The form has written what was typed into the instance; the page's head keeps the saved name.
    name = form.initial["name"]
    return render(
        request, "clients/client_form.html", {"form": form, "client": client, "name": name}
    )


@require_GET
def client_facts(request: HttpRequest, pk: int) -> HttpResponse:
    """The client file that `read_log --client` takes."""
    client = get_object_or_404(Client.objects.editable_by(request.user), pk=pk)
    text = json.dumps(records.client_facts(client), indent=2, ensure_ascii=False)
    return download(text + "\n", client.name, ".client.json", "application/json")


@gear_keepers_only
@require_http_methods(["GET", "POST"])
def walkin_new(request: HttpRequest) -> HttpResponse:
    """Somebody without a coach whose gear the shop keeps."""
    form = WalkInForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        client = records.add_client(form.save(commit=False), by=request.user)
        messages.success(request, f"{client} is on file. Next: the first ball.")
        return redirect("clients:ball_new", client.pk)
    return render(request, "clients/walkin_form.html", {"form": form})
