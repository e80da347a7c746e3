"""Stock: the list, an article, a file of them, and a ball that goes to a client."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from clients import limits, stock, stock_files
from clients.forms.stock import SaleForm, StockFileForm, StockForm
from clients.gates import gear_keepers_only, staff_only
from clients.models import Ball, Client, StockBall, StockDraft, StockSale
from clients.names import NameTaken
from clients.stock_files import StockFileError

PER_PAGE = 50
SALES_SHOWN = 5


@staff_only
@require_GET
def stock_list(request: HttpRequest) -> HttpResponse:
    """Every article with its count and price; ?q= and ?cover= narrow it."""
    everything = StockBall.objects.visible_to(request.user)
    search, cover = request.GET.get("q", "").strip(), request.GET.get("cover", "")
    cover = cover if cover in Ball.Cover.values else ""
    found = stock.searched(everything, words=search, cover=cover)
    page = Paginator(found, PER_PAGE).get_page(request.GET.get("page"))
    ctx = {
        "page": page,
        "articles": stock.checked(page.object_list),
        "search": search,
        "cover": cover,
        "covers": Ball.Cover.choices,
        "may_edit": request.user.is_owner or request.user.is_operator,
    }
    return render(request, "clients/stock/list.html", ctx)


@require_GET
def stock_ball(request: HttpRequest, pk: int) -> HttpResponse:
    ball = get_object_or_404(StockBall.objects.visible_to(request.user), pk=pk)
    sales = StockSale.objects.editable_by(request.user).filter(stock=ball, undone_at=None)
    ctx = {
        "sales": sales.select_related("ball__client")[:SALES_SHOWN],
        "ball": ball,
        "checked": stock.checked([ball])[0],
        "mistyped": limits.mistyped(ball),
        "may_edit": StockBall.objects.editable_by(request.user).filter(pk=pk).exists(),
    }
    return render(request, "clients/stock/ball.html", ctx)


@gear_keepers_only
@require_http_methods(["GET", "POST"])
def stock_new(request: HttpRequest) -> HttpResponse:
    form = StockForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        ball = _saved(form, request)
        if ball:
            messages.success(request, f"{ball} is in the stock list.")
            return redirect("clients:stock_ball", ball.pk)
    return render(request, "clients/stock/form.html", {"form": form})


@require_http_methods(["GET", "POST"])
def stock_edit(request: HttpRequest, pk: int) -> HttpResponse:
    ball = get_object_or_404(StockBall.objects.editable_by(request.user), pk=pk)
    name = ball.name
    form = StockForm(request.POST or None, instance=ball)
    if request.method == "POST" and form.is_valid() and _saved(form, request):
        messages.success(request, "Saved.")
        return redirect("clients:stock_ball", pk)
    return render(request, "clients/stock/form.html", {"form": form, "ball": ball, "name": name})


def _saved(form: StockForm, request: HttpRequest) -> StockBall | None:
    try:
        return stock.save_ball(form.save(commit=False), by=request.user, fields=form.changed_data)
    except NameTaken as error:
        form.add_error("code", str(error))
        return None


@gear_keepers_only
@require_POST
def stock_remove(request: HttpRequest, pk: int) -> HttpResponse:
    """Take an article off the list; a second tap finds it gone and does nothing."""
    ball = StockBall.objects.editable_by(request.user).filter(pk=pk).first()
    if ball:
        stock.remove(ball, by=request.user)
        messages.success(request, f"{ball} is out of the stock list.")
    return redirect("clients:stock")


@require_GET
def stock_sell(request: HttpRequest, pk: int) -> HttpResponse:
    """Whom one of these is for."""
    ball = get_object_or_404(StockBall.objects.editable_by(request.user), pk=pk)
    search = request.GET.get("q", "").strip()
    clients = Client.objects.with_gear_editable_by(request.user).order_by("name")
    if search:
        clients = clients.filter(name__icontains=search)
    ctx = {"ball": ball, "clients": clients, "search": search}
    return render(request, "clients/stock/whose.html", ctx)


@require_http_methods(["GET", "POST"])
def stock_sell_to(request: HttpRequest, pk: int, client: int) -> HttpResponse:
    """One of these for this client; then the ticket that drills it."""
    ball = get_object_or_404(StockBall.objects.editable_by(request.user), pk=pk)
    to = get_object_or_404(Client.objects.with_gear_editable_by(request.user), pk=client)
    form = SaleForm(request.POST or None, stock=ball)
    if request.method == "POST" and form.is_valid():
        values = form.cleaned_data
        try:
            sale = stock.sell(ball, client=to, by=request.user, **values)
        except (stock.SoldOut, stock.TakenBack) as error:
            form.add_error(None, str(error))
        except NameTaken as error:
            form.add_error("name", str(error))
        else:
            # A key that another client's sale has would be somebody's mistake: nothing was sold.
            get_object_or_404(to.balls, pk=sale.ball_id)
            messages.success(
                request,
                f"{sale.ball} is in {to}’s arsenal. Next: the ticket that drills it, now or later.",
            )
            return redirect(
                reverse("clients:ticket_new", args=[to.pk]) + f"?ball={sale.ball_id}&kind=drill"
            )
    ctx = {"ball": ball, "client": to, "form": form}
    return render(request, "clients/stock/sell.html", ctx)


@gear_keepers_only
@require_POST
def sale_undo(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Take a sale back; a second tap finds that done."""
    sale = get_object_or_404(StockSale.objects.editable_by(request.user), pk=pk)
    ball, back = sale.ball, reverse("clients:stock")
    if sale.stock_id:
        back = reverse("clients:stock_ball", args=[sale.stock_id])
    try:
        stock.take_back(sale, by=request.user)
    except stock.InUse as error:
        messages.error(request, str(error))
        return redirect("clients:ball", ball.pk)
    if ball and sale.stock_id:
        messages.success(request, f"The sale of {ball} is undone; it is in stock again.")
    elif ball:
        messages.success(
            request, f"The sale of {ball} is undone. Its article is off the list: none was added."
        )
    return redirect(back)


@gear_keepers_only
@require_http_methods(["GET", "POST"])
def stock_import(request: HttpRequest) -> HttpResponse:
    form = StockFileForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        file = form.cleaned_data["file"]
        try:
            draft = stock_files.keep_upload(filename=file.name, data=file.read(), by=request.user)
        except StockFileError as error:
            form.add_error("file", str(error))
        else:
            return redirect("clients:stock_preview", draft.pk)
    ctx = {"form": form, "columns": stock_files.COLUMNS}
    return render(request, "clients/stock/import.html", ctx)


@require_http_methods(["GET", "POST"])
def stock_preview(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """What taking the file would do; nothing of it counts before the yes."""
    drafts = StockDraft.objects.editable_by(request.user).filter(created_by=request.user)
    draft = get_object_or_404(drafts, pk=pk)
    if draft.applied_at is not None:
        messages.info(request, f"{draft.filename} was imported already; nothing is doubled.")
        return redirect("clients:stock")
    if request.method == "POST":
        if request.POST.get("choice") != "take":
            draft.delete()
            messages.info(request, "Nothing was imported.")
            return redirect("clients:stock")
        taken = stock_files.take(draft, by=request.user)
        messages.success(request, f"{taken.new} added, {taken.changed} changed.")
        return redirect("clients:stock")
    ctx = {"draft": draft, "found": stock_files.preview(draft), "most": 200}
    return render(request, "clients/stock/preview.html", ctx)


@staff_only
@require_GET
def stock_csv(request: HttpRequest) -> HttpResponse:
    """The whole list as a file that the import reads back."""
    text = stock_files.as_csv(StockBall.objects.visible_to(request.user))
    name = f"stock-{timezone.localdate():%Y-%m-%d}.csv"
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    # The mark in front keeps spreadsheets from guessing another encoding.
    return HttpResponse(text.encode("utf-8-sig"), "text/csv; charset=utf-8", headers=headers)
