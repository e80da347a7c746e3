"""Lanes and shots."""

from lanes.models.ledger import Advice, Overruling, TakenAdvice
from lanes.models.places import Block, Centre, Lane, Pattern
from lanes.models.plans import NewBallPlan
from lanes.models.reports import Answer, Homework, Receipt, Report, Suggestion
from lanes.models.rereadings import Rereading, RereadShot
from lanes.models.sessions import ImportDraft, Reading, Session, SessionBall, Shot

__all__ = [
    "Advice",
    "Answer",
    "Block",
    "Centre",
    "Homework",
    "ImportDraft",
    "Lane",
    "NewBallPlan",
    "Overruling",
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
    "TakenAdvice",
]
