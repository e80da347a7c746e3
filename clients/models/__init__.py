"""People and things."""

from clients.models.gear import Ball, Surface
from clients.models.people import (
    Client,
    Consent,
    Guardianship,
    Invitation,
    Role,
    RoleGrant,
    User,
)
from clients.models.work import AuditEntry, Job, Lease, Mail

__all__ = [
    "AuditEntry",
    "Ball",
    "Client",
    "Consent",
    "Guardianship",
    "Invitation",
    "Job",
    "Lease",
    "Mail",
    "Role",
    "RoleGrant",
    "Surface",
    "User",
]
