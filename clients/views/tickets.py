"""Shop tickets: the day board, taking work in, a ticket's page, its pictures and its label."""

from __future__ import annotations

import uuid
from urllib.parse import urlencode

from django.conf import settings
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from clients import cautions, day_board, photos, tickets
from clients.forms.tickets import PhotoForm, TicketForm, WalkInTicketForm
from clients.gates import gear_keepers_only, staff_only
from clients.models import Client, Ticket, TicketPhoto
from clients.names import NameTaken
from clients.views.asked import asked_key
from clients.views.links import links_open_only_here, qr_picture

PER_PAGE = 50
FILTERS = ("kind", "who")


@staff_only
@require_GET
def board(request: HttpRequest) -> HttpResponse:
    """Today's work; with ?show=closed what was handed over or dropped."""
    chosen = _filters(request.GET)
    ctx = {
        **chosen,
        "kinds": Ticket.Kind.choices,
        "workers": day_board.workers(),
        "filters": urlencode({name: value for name, value in chosen.items() if value}),
        "moved": request.GET.get("moved", ""),
        "today": timezone.localdate(),
        "shows_closed": request.GET.get("show") == "closed",
    }
    if ctx["shows_closed"]:
        closed = day_board.closed_for(request.user, **chosen)
        ctx["page"] = Paginator(closed, PER_PAGE).get_page(request.GET.get("page"))
    else:
        ctx["board"] = day_board.board_for(request.user, **chosen)
    return render(request, "clients/tickets/board.html", ctx)


def _filters(asked: QueryDict) -> dict[str, str]:
    return {name: asked.get(name, "") for name in FILTERS}


@staff_only
@require_GET
def take_in(request: HttpRequest) -> HttpResponse:
    """Whose work it is: a client, or somebody who is not on file yet."""
    search = request.GET.get("q", "").strip()
    clients = Client.objects.with_gear_editable_by(request.user).order_by("name")
    if search:
        clients = clients.filter(name__icontains=search)
    return render(request, "clients/tickets/take_in.html", {"clients": clients, "search": search})


@require_http_methods(["GET", "POST"])
def ticket_new(request: HttpRequest, pk: int) -> HttpResponse:
    """A ticket of a client; ?ball= names the ball, ?new_ball= and ?new_cover= one not on file."""
    client = get_object_or_404(Client.objects.with_gear_editable_by(request.user), pk=pk)
    ball = client.balls.filter(pk=asked_key(request.GET.get("ball"))).first()
    asked = {name: request.GET.get(name) for name in ("kind", "new_ball", "new_cover")}
    initial = {"ball": ball, **asked}
    form = TicketForm(request.POST or None, client=client, initial=initial)
    return _take_in(request, form, client)


@gear_keepers_only
@require_http_methods(["GET", "POST"])
def ticket_walk_in(request: HttpRequest) -> HttpResponse:
    """A ticket of somebody who is not on file: the person, the ball and the work on one page."""
    client = Client()
    form = WalkInTicketForm(request.POST or None, client=client)
    return _take_in(request, form, client)


def _take_in(request: HttpRequest, form: TicketForm, client: Client) -> HttpResponse:
    if request.method == "POST":
        first = _ticket_of_the_first_tap(request)
        if first:
            return redirect("clients:ticket", first.pk)
        ticket = form.is_valid() and _written(request, form, client)
        if ticket:
            messages.success(request, f"Ticket {ticket.number} is taken in.")
            return redirect("clients:ticket", ticket.pk)
    ctx = {"form": form, "client": client}
    return render(request, "clients/tickets/form.html", ctx)


def _ticket_of_the_first_tap(request: HttpRequest) -> Ticket | None:
    """Return the ticket that has the form's key already; 404 where it is not the user's to see."""
    try:
        key = uuid.UUID(request.POST.get("key", ""))
    except ValueError:
        return None
    if not Ticket.objects.filter(pk=key).exists():
        return None
    return get_object_or_404(Ticket.objects.editable_by(request.user), pk=key)


def _written(request: HttpRequest, form: TicketForm, client: Client) -> Ticket | None:
    """Return the new ticket, None where the new ball's name is taken."""
    if isinstance(form, WalkInTicketForm):
        client = form.client_for_ticket()
    names = ("kind", "layout", "grit", "polished", "due_on", "price", "assigned_to", "note")
    try:
        return tickets.take_in(
            client=client,
            ball=form.ball_for_ticket(),
            key=form.cleaned_data["key"],
            by=request.user,
            **{name: form.cleaned_data[name] for name in names},
        )
    except NameTaken as error:
        form.add_error("new_ball", str(error))
        return None


@require_GET
def ticket(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """A ticket: for the shop with everything, for the client and the guardians what is theirs."""
    ticket = _seen(request, pk)
    may_edit = Ticket.objects.editable_by(request.user).filter(pk=pk).exists()
    ctx = {"ticket": ticket, "photos": ticket.photos.all(), "price": tickets.money(ticket.price)}
    if not may_edit:
        return render(request, "clients/tickets/own.html", ctx)
    ctx |= {
        "history": tickets.history_of(ticket),
        "cautions": cautions.for_work(ticket.kind),
        "steps": cautions.STEPS[ticket.kind],
        "missing": tickets.what_is_missing(ticket),
        "letters": tickets.letters_of(ticket) if ticket.status == Ticket.Status.READY else [],
        "photo_form": PhotoForm(),
        "largest_mb": photos.MAX_BYTES // 1024 // 1024,
        "may_add_photo": len(ctx["photos"]) < photos.PER_TICKET,
        "may_see_client": Client.objects.editable_by(request.user)
        .filter(pk=ticket.client_id)
        .exists(),
    }
    return render(request, "clients/tickets/ticket.html", ctx)


def _seen(request: HttpRequest, pk: uuid.UUID) -> Ticket:
    seen = Ticket.objects.visible_to(request.user).select_related(
        "client", "ball", "layout__ball", "assigned_to", "created_by", "signed_by"
    )
    return get_object_or_404(seen.prefetch_related("photos", "ball__surfaces"), pk=pk)


def _editable(request: HttpRequest, pk: uuid.UUID) -> Ticket:
    tickets = Ticket.objects.editable_by(request.user).select_related("client", "ball")
    return get_object_or_404(tickets, pk=pk)


@require_http_methods(["GET", "POST"])
def ticket_change(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    ticket = _editable(request, pk)
    form = TicketForm(request.POST or None, instance=ticket, client=ticket.client)
    if request.method == "POST" and form.is_valid():
        tickets.change(form.save(commit=False), by=request.user, fields=list(form.fields))
        messages.success(request, "Saved.")
        return redirect("clients:ticket", pk)
    ctx = {"form": form, "client": ticket.client, "ticket": ticket}
    return render(request, "clients/tickets/form.html", ctx)


@require_POST
def ticket_move(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """One step on from the status that the button stood for."""
    ticket = _editable(request, pk)
    try:
        tickets.move_on(ticket, seen=request.POST.get("seen", ""), by=request.user)
    except tickets.NotReady as missing:
        messages.warning(request, str(missing))
        return redirect("clients:ticket_change", pk)
    return _back(request, ticket)


@require_POST
def ticket_step_back(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    ticket = _editable(request, pk)
    now = tickets.step_back(ticket, seen=request.POST.get("seen", ""), by=request.user)
    told = [mail.to.name for mail in tickets.letters_of(now).exclude(sent_at=None) if mail.to]
    if told and now.is_in_hand:
        who = ", ".join(told)
        messages.warning(request, f"A letter that it is ready went to {who}: tell them it is not.")
    return _back(request, ticket)


@require_POST
def ticket_drop(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    tickets.drop(_editable(request, pk), by=request.user)
    return redirect("clients:ticket", pk)


def _back(request: HttpRequest, ticket: Ticket) -> HttpResponse:
    """Send the browser back to where the button stood: the board as it was filtered, or the page.

    On the board the ticket stands in another list now; the address points at it.
    """
    if request.POST.get("from") != "board":
        return redirect("clients:ticket", ticket.pk)
    chosen = {name: value for name, value in _filters(request.POST).items() if value}
    asked = urlencode(chosen | {"moved": ticket.number})
    return redirect(f"{reverse('clients:shop')}?{asked}#ticket-{ticket.number}")


@require_POST
def photo_add(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    ticket = _editable(request, pk)
    form = PhotoForm(request.POST, request.FILES)
    if form.is_valid():
        try:
            photos.add(ticket, form.cleaned_data["picture"], by=request.user)
        except (photos.NotAPicture, photos.TooManyPictures) as error:
            form.add_error("picture", str(error))
    for error in form.errors.get("picture", []):
        messages.error(request, f"No picture is kept. {error}")
    return redirect(reverse("clients:ticket", args=[pk]) + "#photos")


@require_GET
def photo(request: HttpRequest, pk: uuid.UUID, photo: int) -> HttpResponse:
    """A picture of a ticket, for whoever may see the ticket."""
    seen = TicketPhoto.objects.filter(ticket__in=Ticket.objects.visible_to(request.user))
    found = get_object_or_404(seen, ticket=pk, pk=photo)
    try:
        with found.picture.open("rb") as file:
            data = file.read()  # made small before it was kept
    except FileNotFoundError as error:
        raise Http404("the file is gone") from error
    headers = {"Content-Disposition": f'inline; filename="ticket-picture-{found.pk}.jpg"'}
    return HttpResponse(data, content_type="image/jpeg", headers=headers)


@require_POST
def photo_remove(request: HttpRequest, pk: uuid.UUID, photo: int) -> HttpResponse:
    found = get_object_or_404(TicketPhoto, ticket=_editable(request, pk), pk=photo)
    photos.remove(found, by=request.user)
    return redirect(reverse("clients:ticket", args=[pk]) + "#photos")


@require_GET
def label(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """The label that sticks on the ball's bag: for a label printer, with ?paper=a4 for a sheet."""
    ticket = _editable(request, pk)
    link = settings.SITE_URL + reverse("clients:ticket", args=[pk])
    on_sheet = request.GET.get("paper") == "a4"
    ctx = {"ticket": ticket, "qr": qr_picture(link), "on_sheet": on_sheet}
    ctx["only_here"] = links_open_only_here()
    return render(request, "clients/tickets/label.html", ctx)
