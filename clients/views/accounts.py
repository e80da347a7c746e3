"""Logging in and out, one's own account, a new password by a link."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth import login, update_session_auth_hash
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import LoginView, LogoutView
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from clients import auth, consents, people
from clients.forms.accounts import AccountForm, ChangePasswordForm, LogInForm, NewPasswordForm
from clients.models import User
from clients.views.links import keep_token_out_of_sight


class _LogIn(LoginView):
    authentication_form = LogInForm
    redirect_authenticated_user = True

    def get_redirect_url(self) -> str:
        """Return where to go on to; from the log-in to the log-in would be a circle."""
        url = super().get_redirect_url()
        return "" if url == self.request.path else url


log_in = _LogIn.as_view()
# Logging out twice is no mistake, so nobody is asked to log in for it.
log_out = login_not_required(LogoutView.as_view())


@require_http_methods(["GET", "POST"])
def account(request: HttpRequest) -> HttpResponse:
    """One's own name and e-mail; a guardian's wards stand below."""
    user = request.user
    form = AccountForm(request.POST or None, instance=User.objects.get(pk=user.pk))
    if form.is_valid():
        if form.changed_data:
            people.change_account(form.instance, fields=form.changed_data)
        messages.success(request, "Saved.")
        return redirect("account")
    return render(request, "clients/account.html", {"form": form, "wards": consents.wards_of(user)})


@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def change_password(request: HttpRequest) -> HttpResponse:
    """A new password; whoever else is logged in with this account is out at once."""
    form = ChangePasswordForm(request.user, request.POST or None)
    if form.is_valid():
        people.keep_password(form.save(commit=False))
        update_session_auth_hash(request, form.user)
        messages.success(request, "The new password counts from now on, on every device.")
        return redirect("account")
    return render(request, "clients/change_password.html", {"form": form})


@login_not_required
@never_cache
@keep_token_out_of_sight
@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def set_password(request: HttpRequest, uid: str, token: str) -> HttpResponse:
    """A new password by a link that an owner or coach made; it works once."""
    user = people.user_of_password_link(uid, token)
    if user is None:
        return render(
            request,
            "clients/link_closed.html",
            {"why": "This link has been used, or it is too old."},
            status=410,
        )
    form = NewPasswordForm(user, request.POST or None)
    if form.is_valid():
        people.keep_password(form.save(commit=False), by="link")
        if auth.may_log_in(user):
            login(request, user, backend=auth.BACKEND)
        return redirect("today")
    return render(request, "clients/set_password.html", {"form": form, "person": user})
