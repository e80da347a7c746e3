"""Logging in by e-mail, or by user name for wards without one."""

from __future__ import annotations

from django.conf import settings
from django.contrib.auth.backends import BaseBackend
from django.http import HttpRequest

from clients.models import Client, User

BACKEND = "clients.auth.EmailOrNameBackend"


class EmailOrNameBackend(BaseBackend):
    def authenticate(
        self,
        request: HttpRequest | None,
        username: str | None = None,
        password: str | None = None,
    ) -> User | None:
        if not username or password is None:
            return None
        try:
            user = User.objects.get_by_natural_key(username.strip())
        except User.DoesNotExist:
            User().set_password(password)  # costs the same time as a wrong password
            return None
        return user if user.check_password(password) and may_log_in(user) else None

    def get_user(self, user_id: int) -> User | None:
        user = User.objects.filter(pk=user_id).first()
        return user if user and may_log_in(user) else None


def may_log_in(user: User) -> bool:
    """Whether the account is open; a minor's closes when the guardian takes the consent back."""
    if not user.is_active:
        return False
    client = Client.objects.filter(user=user).first()
    return client is None or client.may_have_account


def typed_login(request: HttpRequest | None, credentials: dict | None = None) -> str | None:
    """Return the log-in as it counts for locking out: as tried, whatever its case.

    What was tried comes before what the form has, or a form with two names would let somebody
    guess at one of them and be counted under the other.
    """
    typed = (credentials or {}).get("username")
    typed = typed or (request.POST.get("username") if request is not None else None)
    return typed.strip().lower() if typed else None


def asking_address(request: HttpRequest) -> str:
    """Return from where somebody tries passwords, for locking out.

    Behind our proxy every request comes from the proxy, which writes the real address last into
    X-Forwarded-For; what stands before it is the sender's own and proves nothing.
    """
    forwarded = request.META.get("HTTP_X_FORWARDED_FOR", "") if settings.BEHIND_TLS else ""
    return forwarded.rsplit(",", 1)[-1].strip() or request.META.get("REMOTE_ADDR", "")
