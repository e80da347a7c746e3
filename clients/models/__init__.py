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
from clients.models.stock import StockBall, StockSale
from clients.models.work import AuditEntry, Job, Lease, Mail

__all__ = [
    "AuditEntry",
    "AxisPoint",
    "Ball",
    "BallEvent",
    "Client",
    "Consent",
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
    "StockSale",
    "Surface",
    "SurfaceReading",
    "Ticket",
    "TicketPhoto",
    "User",
]
