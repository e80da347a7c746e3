"""People and things."""

from clients.models.gear import Ball, Surface, SurfaceReading
from clients.models.people import (
    Client,
    Consent,
    Guardianship,
    Invitation,
    Role,
    RoleGrant,
    User,
)
from clients.models.shop import (
    AxisPoint,
    BallEvent,
    FitHole,
    FitSheet,
    Layout,
    Ticket,
    TicketPhoto,
)
from clients.models.stock import StockBall, StockDraft, StockSale
from clients.models.work import AuditEntry, Counter, Job, Lease, Mail

__all__ = [
    "AuditEntry",
    "AxisPoint",
    "Ball",
    "BallEvent",
    "Client",
    "Consent",
    "Counter",
    "FitHole",
    "FitSheet",
    "Guardianship",
    "Invitation",
    "Job",
    "Layout",
    "Lease",
    "Mail",
    "Role",
    "RoleGrant",
    "StockBall",
    "StockDraft",
    "StockSale",
    "Surface",
    "SurfaceReading",
    "Ticket",
    "TicketPhoto",
    "User",
]
