"""What is kept of a client, for whoever may have a copy of it; and its deletion, for the owner."""

from __future__ import annotations

import tempfile

from django import forms
from django.contrib import messages
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from clients.gates import only_for
from clients.models import Client
from coachsite import client_copy, farewell
from coachsite.kept import accounts_of

IN_MEMORY = 8 * 2**20  # a bigger copy waits on disk while it is sent


class NameForm(forms.Form):
    """The client's name typed out: nobody does that by accident."""

    name = forms.CharField(max_length=80)

    def __init__(self, *args: object, client: Client, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.client = client
        self.fields["name"].label = f"Type the name, {client.name}"
        self.fields["name"].widget.attrs["autocomplete"] = "off"

    def clean_name(self) -> str:
        name = " ".join(self.cleaned_data["name"].split())
        if name.casefold() != " ".join(self.client.name.split()).casefold():
            raise forms.ValidationError(f"Expected the client's name: {self.client.name}.")
        return name


@never_cache
@require_http_methods(["GET", "POST"])
def copy(request: HttpRequest, pk: int) -> HttpResponse | FileResponse:
    """Say what a copy holds; by POST, make it."""
    client = get_object_or_404(
        Client.objects.with_gear_for(request.user).select_related("user"), pk=pk
    )
    scope = client_copy.scope_for(request.user, client)
    if scope is None:
        raise Http404
    if request.method == "POST":
        file = tempfile.SpooledTemporaryFile(max_size=IN_MEMORY)  # noqa: SIM115 - the answer closes it
        client_copy.write_copy(client, scope, request.user, file)
        file.seek(0)
        day = timezone.localdate().isoformat()
        name = f"{slugify(client.name) or 'client'}-{day}.zip"
        return FileResponse(file, as_attachment=True, filename=name, content_type="application/zip")
    ctx = {
        "client": client,
        "scope": scope,
        "is_coach": Client.objects.editable_by(request.user).filter(pk=pk).exists(),
        "contents": client_copy.contents(client, scope, request.user),
        "left_out": client_copy.LEFT_OUT[scope],
    }
    return render(request, "client_data/copy.html", ctx)


@only_for(lambda user: user.is_owner)
@require_http_methods(["GET", "POST"])
def delete(request: HttpRequest, pk: int) -> HttpResponse:
    """Say what a deletion takes along; with the name typed, do it."""
    client = Client.objects.editable_by(request.user).filter(pk=pk).first()
    if client is None and request.method == "POST":
        return redirect("clients:list")  # a second tap: gone already
    if client is None:
        raise Http404
    form = NameForm(request.POST or None, client=client)
    if request.method == "POST" and form.is_valid():
        farewell.delete_client(client, by=request.user)
        messages.success(request, f"{client.name} and everything kept of them is deleted.")
        return redirect("clients:list")
    ctx = {
        "client": client,
        "form": form,
        "takes_along": farewell.takes_along(client),
        "accounts": accounts_of(client),
        "open_tickets": farewell.open_tickets(client),
    }
    return render(request, "client_data/delete.html", ctx)
