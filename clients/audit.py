"""Who changed what."""

from __future__ import annotations

from typing import Any

from django.db import models

from clients.models import AuditEntry, User


def record(actor: User | None, action: str, subject: models.Model, **data: Any) -> AuditEntry:
    """Write an audit entry; call it inside the transaction of the change.

    `action` is the thing and what happened to it, as in "report.sent".
    """
    return AuditEntry.objects.create(
        actor=actor, action=action, subject=f"{subject._meta.label} {subject.pk}", data=data
    )
