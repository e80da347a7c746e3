"""Opening an account by an invitation's link. Anybody who holds the link may see these pages."""

from __future__ import annotations

from django.contrib.auth import authenticate, login
from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from clients import auth, invitations
from clients.forms.invitations import JoinForm
from clients.models import Invitation, Role, User
from clients.views.links import keep_token_out_of_sight


@login_not_required
@never_cache
@keep_token_out_of_sight
@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def join(request: HttpRequest, token: str) -> HttpResponse:
    """Show the invitation; on POST open an account, or give it to the one that is logged in."""
    invitation = invitations.find(token)
    if invitation is None:
        raise Http404
    if why := invitations.why_closed(invitation):
        return _closed(request, invitation, why)
    if invitations.awaits_guardian(invitation):
        return _awaited(request, invitation)
    try:
        if request.user.is_authenticated:
            return _with_account(request, invitation)
        return _with_new_account(request, invitation)
    except invitations.Closed as why:
        return _closed(request, invitation, str(why))
    except invitations.AwaitsGuardian:
        return _awaited(request, invitation)


def _closed(request: HttpRequest, invitation: Invitation, why: str) -> HttpResponse:
    """Say that the link opens nothing; whoever used it and taps again is let in once more."""
    user = request.user if request.user.is_authenticated else _who_taps_again(request, invitation)
    if user and user.pk == invitation.accepted_by_id:
        return _go_on(invitation, user)
    return render(request, "clients/link_closed.html", {"why": why}, status=410)


def _who_taps_again(request: HttpRequest, invitation: Invitation) -> User | None:
    """Return the user of a form that was sent twice, logged in by what they typed."""
    owner = invitation.accepted_by
    name = request.POST.get("email") or request.POST.get("username") or invitation.email
    password = request.POST.get("password1")
    if not (owner and password) or name.strip().lower() not in (owner.email, owner.username):
        return None
    user = authenticate(request, username=name, password=password)
    if user is None:
        return None
    login(request, user, backend=auth.BACKEND)
    return user


def _awaited(request: HttpRequest, invitation: Invitation) -> HttpResponse:
    status = 403 if request.method == "POST" else 200
    context = {"invitation": invitation}
    return render(request, "clients/awaits_guardian.html", context, status=status)


def _with_account(request: HttpRequest, invitation: Invitation) -> HttpResponse:
    problem = invitations.problem_with_account(invitation, request.user)
    if request.method == "POST" and not problem:
        invitations.accept_as(invitation, request.user)
        return _go_on(invitation, request.user)
    status = 403 if request.method == "POST" else 200
    context = {"invitation": invitation, "problem": problem}
    return render(request, "clients/join_with_account.html", context, status=status)


def _with_new_account(request: HttpRequest, invitation: Invitation) -> HttpResponse:
    if invitation.email and User.objects.filter(email=invitation.email).exists():
        return render(request, "clients/join_log_in_first.html", {"invitation": invitation})
    form = JoinForm(request.POST or None, invitation=invitation)
    if form.is_valid():
        data = form.cleaned_data
        try:
            user = invitations.accept_as_new(
                invitation,
                name=data["name"],
                email=data["email"],
                username=data.get("username", ""),
                password=data["password1"],
            )
        except ValidationError as problem:
            form.add_error(None, problem.messages)
        else:
            login(request, user, backend=auth.BACKEND)
            return _go_on(invitation, user)
    status = 400 if form.is_bound else 200
    context = {"invitation": invitation, "form": form}
    return render(request, "clients/join.html", context, status=status)


def _go_on(invitation: Invitation, user: User) -> HttpResponse:
    """A guardian goes on to what there is to agree to, everybody else to the first page."""
    if invitation.role == Role.GUARDIAN:
        guardianship = user.wards.get(client=invitation.client_id)
        return redirect("clients:consents", pk=guardianship.pk)
    return redirect("today")
