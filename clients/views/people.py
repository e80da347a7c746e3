"""People with accounts, and those invited."""

from __future__ import annotations

from django.conf import settings
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from clients import invitations, people
from clients.forms.invitations import InviteForm
from clients.forms.roles import RolesForm
from clients.gates import coaches_only
from clients.models import Client, Invitation, User
from clients.views.asked import asked_key
from clients.views.links import keep_link, keep_token_out_of_sight, shown_link


@coaches_only
@require_GET
def people_list(request: HttpRequest) -> HttpResponse:
    """Everybody for the owner, those around own clients for a coach; and who is invited."""
    users = (
        User.objects.visible_to(request.user)
        .select_related("client")
        .prefetch_related("grants", "wards__client")
        .order_by("-is_active", "name")
    )
    context = {"users": users, "invitations": invitations.open_ones(request.user)}
    return render(request, "clients/people.html", context)


@never_cache
@keep_token_out_of_sight
@coaches_only
@require_GET
def person(request: HttpRequest, pk: int) -> HttpResponse:
    """One account: its roles, whether it is open, a link for a new password."""
    return _person_page(request, _seen_user(request, pk))


def _seen_user(request: HttpRequest, pk: int) -> User:
    users = User.objects.visible_to(request.user).select_related("client")
    return get_object_or_404(users.prefetch_related("grants", "wards__client"), pk=pk)


def _person_page(
    request: HttpRequest, user: User, form: RolesForm | None = None, status: int = 200
) -> HttpResponse:
    context = {
        "person": user,
        "form": form or RolesForm(initial={"roles": list(user.roles)}),
        "may_change": request.user.is_owner,
        "may_make_link": people.may_make_password_link(request.user, user),
        **shown_link(request, f"password:{user.pk}"),
    }
    return render(request, "clients/person.html", context, status=status)


def _owned_user(request: HttpRequest, pk: int) -> User:
    """Return the user to change; only the owner changes people."""
    user = _seen_user(request, pk)
    if not request.user.is_owner:
        raise PermissionDenied
    return user


@coaches_only
@require_POST
def person_roles(request: HttpRequest, pk: int) -> HttpResponse:
    user = _owned_user(request, pk)
    form = RolesForm(request.POST)
    if form.is_valid():
        try:
            people.set_staff_roles(user, form.cleaned_data["roles"], by=request.user)
        except people.LastOwner as problem:
            form.add_error("roles", str(problem))
        else:
            messages.success(request, f"Saved what {user} works as.")
            # An owner who is none any more sees no such page.
            still = user.pk != request.user.pk or user.is_owner
            return redirect("clients:person", pk=user.pk) if still else redirect("today")
    return _person_page(request, user, form, status=400)


@coaches_only
@require_POST
def person_close(request: HttpRequest, pk: int) -> HttpResponse:
    user = _owned_user(request, pk)
    try:
        people.close_account(user, by=request.user)
    except people.LastOwner as problem:
        messages.error(request, str(problem))
    else:
        messages.success(request, f"The account of {user} is closed. Nothing of it is deleted.")
    return redirect("clients:person", pk=user.pk)


@coaches_only
@require_POST
def person_open(request: HttpRequest, pk: int) -> HttpResponse:
    user = _owned_user(request, pk)
    people.open_account(user, by=request.user)
    messages.success(request, f"The account of {user} is open.")
    return redirect("clients:person", pk=user.pk)


@coaches_only
@require_POST
def person_password(request: HttpRequest, pk: int) -> HttpResponse:
    """Make a link by which this person sets a new password."""
    user = _seen_user(request, pk)
    if not people.may_make_password_link(request.user, user):
        raise PermissionDenied
    path = people.password_link(user, by=request.user)
    keep_link(request, f"password:{user.pk}", settings.SITE_URL + path)
    return redirect("clients:person", pk=user.pk)


@coaches_only
@require_http_methods(["GET", "POST"])
def invite(request: HttpRequest) -> HttpResponse:
    """Invite somebody; from a client's page, with the client already chosen."""
    mine = Client.objects.editable_by(request.user)
    client = mine.filter(pk=asked_key(request.GET.get("client"))).first()
    role = request.GET.get("role", "student" if client else "")
    initial = {"client": client, "role": role}
    if client and role == "student":
        initial["name"] = client.name
    form = InviteForm(request.POST or None, by=request.user, initial=initial)
    if form.is_valid():
        invitation, token = invitations.invite(by=request.user, **form.cleaned_data)
        keep_link(request, f"invitation:{invitation.pk}", invitations.link(token))
        return redirect("clients:invitation", pk=invitation.pk)
    status = 400 if form.is_bound else 200
    return render(request, "clients/invite.html", {"form": form, "client": client}, status=status)


@never_cache
@keep_token_out_of_sight
@coaches_only
@require_GET
def invitation(request: HttpRequest, pk: int) -> HttpResponse:
    """The link and its QR code, once; afterwards what became of the invitation."""
    found = _seen_invitation(request, pk)
    context = {
        "invitation": found,
        "why_closed": invitations.why_closed(found),
        "mail_goes_out": bool(found.email and settings.EMAIL_HOST),
        **shown_link(request, f"invitation:{found.pk}"),
    }
    return render(request, "clients/invitation.html", context)


def _seen_invitation(request: HttpRequest, pk: int) -> Invitation:
    seen = Invitation.objects.visible_to(request.user).select_related("client", "created_by")
    return get_object_or_404(seen, pk=pk)


@coaches_only
@require_POST
def invitation_renew(request: HttpRequest, pk: int) -> HttpResponse:
    found = _seen_invitation(request, pk)
    try:
        token = invitations.renew(found, by=request.user)
    except invitations.Closed as why:
        messages.error(request, f"{why} Write a new invitation instead.")
    else:
        keep_link(request, f"invitation:{found.pk}", invitations.link(token))
    return redirect("clients:invitation", pk=found.pk)


@coaches_only
@require_POST
def invitation_revoke(request: HttpRequest, pk: int) -> HttpResponse:
    found = _seen_invitation(request, pk)
    invitations.revoke(found, by=request.user)
    messages.success(request, f"The invitation of {found.name} is taken back.")
    return redirect("clients:people")
