"""What a client's page shows of the account and the guardians."""

from __future__ import annotations

from typing import Any

from django import template

from clients import auth, consents, invitations
from clients.models import Client, User

register = template.Library()


@register.simple_tag
def account_of(client: Client, user: User) -> dict[str, Any] | None:
    """Return the state of the client's account, None for a user who does not coach the client."""
    if not Client.objects.editable_by(user).filter(pk=client.pk).exists():
        return None
    guardianships = consents.guardians_of(client)
    has_consent = any(
        state.given and state.kind == "account" for _, states in guardianships for state in states
    )
    return {
        "guardianships": guardianships,
        "has_consent": has_consent,
        "is_open": bool(client.user and auth.may_log_in(client.user)),
        "invitations": [one for one in invitations.open_ones(user) if one.client_id == client.pk],
    }
