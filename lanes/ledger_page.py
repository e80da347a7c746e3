"""What the ledger's pages show: filters, the calibration picture, the kinds and the pieces."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, ClassVar

from django.db.models import Exists, OuterRef, QuerySet

from clients.models import Client, User
from lanes import ledger, reports
from lanes.models import Advice, Report, Suggestion, TakenAdvice
from lanes.reading.ledger import (
    FEWEST_BALLS,
    FEWEST_EACH,
    FEWEST_PIECES,
    MOST_BALLS,
    Bin,
    Brier,
    Gain,
    Mean,
    Share,
    brier,
    calibration,
    gains,
)

SHOWN = 50  # pieces in the list; all of them count
_OF_CLIENT = 5
_CLIENT = "suggestion__report__session__client"


@dataclass(frozen=True)
class Filters:
    """Whose advice: a student's, a coach's, one version of the reading's; ``None`` for all."""

    client: int | None = None
    coach: int | None = None
    version: str = ""


def offered(user: User, filters: Filters) -> QuerySet[Advice]:
    """Return what was offered, of each session by the newest version that was sent."""
    newest = reports.newest_versions(Report.objects.filter(state=Report.State.SENT))
    rows = Advice.objects.visible_to(user).filter(suggestion__report__in=newest)
    return _filtered(rows, filters, "")


def taken(user: User, filters: Filters) -> QuerySet[TakenAdvice]:
    """Return what was taken, of all versions, with what the score needs."""
    seen = TakenAdvice.objects.filter(
        advice__in=Advice.objects.visible_to(user), session__deleted_at=None
    )
    rows = _filtered(seen, filters, "advice__")
    return rows.select_related(*ledger.OF_TAKEN).defer("advice__suggestion__why")


def _filtered(rows: QuerySet, filters: Filters, way: str) -> QuerySet:
    if filters.client is not None:
        rows = rows.filter(**{f"{way}{_CLIENT}": filters.client})
    if filters.coach is not None:
        rows = rows.filter(**{f"{way}coach": filters.coach})
    if filters.version:
        rows = rows.filter(**{f"{way}suggestion__model_version": filters.version})
    return rows


def choices(user: User) -> dict[str, Any]:
    """Return what the filters may be set to: what has advice in it."""
    seen = Advice.objects.visible_to(user)
    clients = Client.objects.editable_by(user).filter(
        pk__in=seen.order_by().values(_CLIENT).distinct()
    )
    coaches = User.objects.filter(pk__in=seen.order_by().values("coach").distinct())
    versions = seen.order_by().values_list("suggestion__model_version", flat=True).distinct()
    return {
        "clients": clients.order_by("name"),
        "coaches": coaches.order_by("name") if user.is_owner else User.objects.none(),
        "versions": sorted(versions),
    }


@dataclass(frozen=True)
class KindRow:
    """A kind of advice: how often it was offered, taken and refused, and what it gained."""

    label: str
    offered: int
    not_taken: int
    gain: Gain


def context(user: User, filters: Filters) -> dict[str, Any]:
    """Return what the ledger's page shows."""
    entries = ledger.entries(taken(user, filters))
    pieces = [entry.piece for entry in entries]
    scored = [piece for piece in pieces if piece.scores]
    strikes = [(piece.strike, piece.after.strikes) for piece in scored]
    pockets = [(piece.pocket, piece.after.pocket) for piece in scored]
    rows = list(
        offered(user, filters)
        .annotate(was_taken=Exists(TakenAdvice.objects.filter(advice=OuterRef("pk"))))
        .values_list("suggestion__kind", "not_taken_at", "was_taken")
    )
    return {
        "filters": filters,
        "offered": len(rows),
        "taken": len(entries),
        "not_taken": sum(at is not None for _, at, _ in rows),
        "unmarked": sum(at is None and not was for _, at, was in rows),
        "picture": CalibrationPicture(calibration(strikes)),
        "scores": [
            ("Strike", told_brier(brier(strikes))),
            ("Pocket", told_brier(brier(pockets))),
        ],
        "other_oil": len(pieces) - len(scored),
        "kinds": kind_rows(rows, gains(pieces)),
        "entries": [EntryRow(entry) for entry in entries[:SHOWN]],
        "shown": SHOWN,
        "most_balls": MOST_BALLS,
        "fewest_balls": FEWEST_BALLS,
        "fewest_each": FEWEST_EACH,
        "fewest_pieces": FEWEST_PIECES,
    }


def kind_rows(rows: Sequence[tuple[str, Any, bool]], found: Sequence[Gain]) -> list[KindRow]:
    """Return a row for each kind that was offered or taken, in the order of least effort."""
    by_kind = {gain.kind: gain for gain in found}
    none = Share(0, 0)
    table = []
    for kind, label in Suggestion.Kind.choices:
        mine = [at for one, at, _ in rows if one == kind]
        if mine or kind in by_kind:
            gain = by_kind.get(kind, Gain(kind, 0, 0, none, none))
            refused = sum(at is not None for at in mine)
            table.append(KindRow(str(label), len(mine), refused, gain))
    return table


def of_client(client: Client, user: User) -> dict[str, Any]:
    """Return the short form for a client's page: the last pieces that were taken."""
    entries = ledger.entries(taken(user, Filters(client=client.pk)))
    return {
        "rows": [EntryRow(entry) for entry in entries[:_OF_CLIENT]],
        "taken": len(entries),
        "kinds": [
            gain for gain in gains([e.piece for e in entries]) if gain.verdict in ("paid", "cost")
        ],
        "offered": offered(user, Filters(client=client.pk)).count(),
    }


# In words


def percent(share: float) -> int:
    return round(100 * share)


def share_words(share: Share) -> str:
    """Return a share as a coach reads it: "7 of 9", and from ten on with its range."""
    if not share.of:
        return "not seen"
    counted = f"{share.made} of {share.of}"
    interval = share.interval
    if interval is None:
        return counted
    return f"{counted}, {percent(interval[0])} to {percent(interval[1])} %"


def mean_words(mean: Mean) -> str:
    """Return a mean of boards with its range; how many were read where those are too few."""
    if mean.value is None or mean.low is None or mean.high is None:
        return f"{mean.n} read" if mean.n else "not seen"
    return f"{mean.low:.1f} to {mean.high:.1f}"


def gain_words(gain: Gain) -> str:
    """Return a gain in strikes of 100 with its range, or that it is too early to tell."""
    if gain.gain is None or gain.low is None or gain.high is None:
        return f"too few to tell ({gain.pieces})"
    low, high = percent(gain.low), percent(gain.high)
    return f"{low:+d} to {high:+d} in 100".replace("-", "\u2212")


VERDICTS = {
    "paid": "paid",
    "cost": "cost strikes",
    "even": "no difference that can be told",
    "few": "",
}


@dataclass(frozen=True)
class BrierWords:
    """A score in words; ``few`` where there is too little for one."""

    few: str
    score: str = ""
    skill: str = ""
    verdict: str = ""


def told_brier(found: Brier) -> BrierWords:
    if found.score is None or found.of_base_rate is None or found.base_rate is None:
        return BrierWords(f"too few to tell ({found.pieces} taken, {found.balls} balls)")
    score = (
        f"{found.score:.3f}; the base rate, {percent(found.base_rate)} %, alone "
        f"{found.of_base_rate:.3f} ({found.pieces} taken, {found.balls} balls)"
    )
    if found.skill is None or found.skill_low is None or found.skill_high is None:
        return BrierWords("", score, verdict="every ball ended alike, no skill can be told")
    low, high = percent(found.skill_low), percent(found.skill_high)
    skill = f"{low:+d} to {high:+d} %".replace("-", "\u2212")
    verdict = (
        "better than the base rate" if low > 0
        else "worse than the base rate" if high < 0
        else "not told from the base rate"
    )  # fmt: skip
    return BrierWords("", score, skill, verdict)


@dataclass(frozen=True)
class EntryRow:
    """A piece of advice that was taken, as the list shows it."""

    entry: ledger.Entry

    @property
    def predicted(self) -> str:
        one = self.entry.suggestion
        if one.strike_low is None or one.strike_high is None:
            return ""
        return f"{percent(one.strike_low)} to {percent(one.strike_high)} %"

    @property
    def pocket_predicted(self) -> str:
        pocket = self.entry.suggestion.pocket
        return "" if pocket is None else f"{percent(pocket)} %"

    @property
    def strikes(self) -> str:
        return share_words(self.entry.piece.after.strikes)

    @property
    def before(self) -> str:
        return share_words(self.entry.piece.before.strikes)

    @property
    def pocket(self) -> str:
        return share_words(self.entry.piece.after.pocket)

    @property
    def head_pin(self) -> str:
        return mean_words(self.entry.piece.after.head_pin)

    @property
    def head_pin_predicted(self) -> str:
        board = self.entry.advice.head_pin
        return "" if board is None else f"{board:.1f}"


# The picture


@dataclass(frozen=True)
class Point:
    """A bin as drawn: a whisker with ends and a mark, or counts alone where it has no rate."""

    x: float
    y: float | None
    low: float
    high: float
    label: str


@dataclass
class CalibrationPicture:
    """Predicted chance across, what came true up; on the slanted line the two agree."""

    bins: Sequence[Bin] = field(default_factory=list)
    width: ClassVar[float] = 340.0
    height: ClassVar[float] = 330.0
    left: ClassVar[float] = 46.0
    top: ClassVar[float] = 10.0
    right: ClassVar[float] = 322.0
    bottom: ClassVar[float] = 280.0

    def x(self, share: float) -> float:
        return round(self.left + share * (self.right - self.left), 1)

    def y(self, share: float) -> float:
        return round(self.bottom - share * (self.bottom - self.top), 1)

    @property
    def middle(self) -> float:
        return (self.left + self.right) / 2

    @property
    def centre(self) -> float:
        return (self.top + self.bottom) / 2

    @property
    def ticks(self) -> list[tuple[float, float, str]]:
        """Return where each tick lies across and up, and its text."""
        shares = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)
        return [(self.x(s), self.y(s), f"{percent(s)}") for s in shares]

    @property
    def points(self) -> list[Point]:
        found = []
        for one in self.bins:
            if one.predicted is None or one.share.interval is None or one.share.rate is None:
                continue
            low, high = one.share.interval
            found.append(
                Point(
                    self.x(one.predicted), self.y(one.share.rate), self.y(low), self.y(high),
                    f"{one.share.made} of {one.share.of}",
                )
            )  # fmt: skip
        return found

    @property
    def rows(self) -> list[tuple[str, str, str, int]]:
        """Return the same as a table: predicted, what happened, whether it tells, pieces."""
        return [
            (
                f"{percent(one.low)} to {percent(one.high)} %",
                "" if one.predicted is None else f"{percent(one.predicted)} %",
                share_words(one.share),
                one.pieces,
            )
            for one in self.bins
        ]

    @property
    def description(self) -> str:
        told = [f"predicted {mean}: {happened}" for (_, mean, happened, _) in self.rows if happened]
        return "; ".join(told) + "." if told else "Nothing yet."
