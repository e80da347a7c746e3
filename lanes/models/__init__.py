"""Lanes and shots."""

from lanes.models.places import Block, Centre, Lane, Pattern
from lanes.models.plans import NewBallPlan
from lanes.models.rereadings import Rereading, RereadShot
from lanes.models.reports import Answer, Homework, Receipt, Report, Suggestion
from lanes.models.sessions import ImportDraft, Reading, Session, SessionBall, Shot

__all__ = [
    "Answer",
    "Block",
    "Centre",
    "Homework",
    "ImportDraft",
    "Lane",
    "NewBallPlan",
    "Pattern",
    "Reading",
    "Receipt",
    "Report",
    "RereadShot",
    "Rereading",
    "Session",
    "SessionBall",
    "Shot",
    "Suggestion",
]
