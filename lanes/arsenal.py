"""The arsenal map: all of a student's balls on the reference lane, by this student's release.

Each ball has the surface that it has today, with the games on it. Out come the paths over one
another, an ordered list in physical numbers, which balls do the same and where one is missing.

Two thresholds, both computed and both told on the page:

- **Overlap.** Two balls do the same where their paths are nowhere further apart than the doubt of a
  measured release moves one of them (`ReleasePrior`: half a mph, 20 rpm, 5 deg of rotation, one sd
  each, added in quadrature). Whoever bowls them moves a ball as much without knowing.
- **Gap.** Between neighbours in the order, at the head pin, more than twice the pocket's width.
  From one line, a ball stays in the pocket while the lane's hook changes by the pocket's width; so
  between two such balls lies a stretch of lanes, wider than the pocket, on which neither is in it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations, pairwise

import numpy as np

from clients.models import Ball, Client
from lanes.cover_law import law_words, shops_settling
from lanes.locker import specs_of
from lanes.motion import (
    ARROWS_FT,
    HEAD_PIN_FT,
    POCKET,
    BallSpec,
    Path,
    Release,
    ReleasePrior,
    RigidPath,
    lane_friction,
    launch_for_target,
    roll,
)
from lanes.motion.friction import SURFACE_LAW, SurfaceLaw
from lanes.motion.reference import (
    ARROWS,
    LAST_FT,
    LAYDOWN,
    REFERENCE_FILM,
    on_reference_lane,
)
from lanes.pictures import DASHES, LanePicture

GAP_BOARDS = 2.0 * (POCKET.high - POCKET.light)
MOST = 12  # that one drawing and one page can hold; nobody carries more
_KNOWN = ReleasePrior.known(1.0, 1.0, 1.0, 1.0)  # the doubt of a release that was measured
DOUBTS = {
    "speed_mph": _KNOWN.speed_sd,
    "rev_rpm": _KNOWN.rev_sd,
    "rotation_deg": _KNOWN.rotation_sd,
}
_UNITS = {"speed_mph": "mph", "rev_rpm": "rpm", "rotation_deg": "deg", "tilt_deg": "deg"}
_LABELS = {
    "speed_mph": "speed",
    "rev_rpm": "rev rate",
    "rotation_deg": "rotation",
    "tilt_deg": "tilt",
}


@dataclass(frozen=True)
class Thrown:
    """The release that all balls are thrown with, and which of its numbers had to be assumed."""

    release: Release
    assumed: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        return ", ".join(
            f"{_LABELS[name]} {abs(getattr(self.release, name)):g} {unit}"
            + (" (assumed)" if name in self.assumed else "")
            for name, unit in _UNITS.items()
        )


@dataclass(frozen=True, eq=False)
class Mapped:
    """One ball on the reference lane. `doubt_boards` is how far the release's doubt moves it."""

    ball: Ball
    spec: BallSpec
    path: RigidPath
    last_20ft_boards: float | None
    doubt_boards: float
    series: int = 1
    dash: str = "solid"

    @property
    def head_pin_board(self) -> float | None:
        return self.path.head_pin_board

    @property
    def games(self) -> float | None:
        return self.spec.games


@dataclass(frozen=True, eq=False)
class Overlap:
    one: Mapped
    other: Mapped
    apart_boards: float
    doubt_boards: float

    def __str__(self) -> str:
        return (
            f"{self.one.ball} and {self.other.ball} do the same: nowhere more than "
            f"{self.apart_boards:.1f} boards apart, and the doubt of a measured release alone "
            f"moves a ball by {self.doubt_boards:.1f}."
        )


@dataclass(frozen=True, eq=False)
class Gap:
    stronger: Mapped
    weaker: Mapped
    boards: float

    def __str__(self) -> str:
        return (
            f"Between {self.stronger.ball} and {self.weaker.ball} lie {self.boards:.1f} boards at "
            f"the head pin, more than {GAP_BOARDS:g}, twice the pocket's width: there are lanes "
            f"on which {self.stronger.ball} goes high and {self.weaker.ball} is light from the "
            "same line. Another surface on one of them may close it before another ball does."
        )


@dataclass(frozen=True, eq=False)
class Arsenal:
    """Balls from the one that hooks most to the one that hooks least, and what is in between."""

    thrown: Thrown | None
    balls: tuple[Mapped, ...] = ()
    overlaps: tuple[Overlap, ...] = ()
    gaps: tuple[Gap, ...] = ()
    spares: tuple[Ball, ...] = ()
    left_out: tuple[Ball, ...] = ()
    problems: tuple[str, ...] = ()
    law_words: str = ""
    picture: LanePicture | None = field(default=None, repr=False)

    @property
    def words(self) -> str:
        """Say the order, and that nothing stands out where nothing does."""
        if not self.balls:
            return ""
        if len(self.balls) == 1:
            return f"{self.balls[0].ball} is alone: there is nothing to compare it with."
        names = [str(one.ball) for one in self.balls]
        order = f"From the most hook to the least: {', '.join(names)}."
        if self.overlaps or self.gaps:
            return order
        return f"{order} No two of them do the same, and none is missing between two of them."


def arsenal_of(client: Client) -> Arsenal:
    """Return the map of a client's balls in use; spare balls are named beside it."""
    in_use = list(
        client.balls.filter(retired_at=None).prefetch_related("surfaces").order_by("name")
    )
    spares = tuple(ball for ball in in_use if ball.is_spare_ball)
    balls = [ball for ball in in_use if not ball.is_spare_ball]
    try:
        thrown = release_of(client)
    except ValueError as error:
        problem = f"The release of {client} is likely mistyped: {error}."
        return Arsenal(None, spares=spares, problems=(problem,))
    settling = shops_settling()
    mapped, problems = [], []
    for ball, spec in zip(balls[:MOST], specs_of(balls[:MOST]), strict=True):
        try:
            mapped.append(on_the_map(ball, spec, thrown.release, settling.law))
        except ValueError as error:
            problems.append(f"{ball} is left out, one of its numbers is likely mistyped: {error}.")
    ordered = _ordered(mapped)
    return Arsenal(
        thrown=thrown,
        balls=ordered,
        overlaps=tuple(overlaps(ordered)),
        gaps=tuple(gaps(ordered)),
        spares=spares,
        left_out=tuple(balls[MOST:]),
        problems=tuple(problems),
        law_words=law_words(settling),
        picture=_picture(client, ordered) if ordered else None,
    )


def release_of(client: Client) -> Thrown:
    """Return the client's release on the reference lane's line.

    What nobody measured is an average (`ReleasePrior.known`). A back-up ball is shown as if it
    hooked the usual way: the reference lane is the same on all boards. Raises ValueError where a
    number is out of the model's range.
    """
    prior = ReleasePrior.known(
        client.speed_mph, client.rev_rpm, client.rotation_deg, client.tilt_deg
    )
    release = Release(
        prior.speed_mph,
        prior.rev_rpm,
        abs(prior.rotation_deg),
        prior.tilt_deg,
        LAYDOWN,
        launch_for_target(LAYDOWN, ARROWS),
    )
    return Thrown(release, prior.assumed)


def on_the_map(
    ball: Ball, spec: BallSpec, release: Release, law: SurfaceLaw = SURFACE_LAW
) -> Mapped:
    """Roll one ball down the reference lane. Raises ValueError for a ball that cannot be."""
    path = on_reference_lane(spec, release, law=law)
    return Mapped(
        ball=ball,
        spec=spec,
        path=path,
        last_20ft_boards=_covered(path),
        doubt_boards=doubt_boards(spec, release, law),
    )


def _covered(path: Path) -> float | None:
    if path.gutter_at_ft is not None:
        return None
    then = float(np.interp(HEAD_PIN_FT - LAST_FT, path.path_ft, path.path_board))
    return float(path.path_board[-1]) - then


def doubt_boards(spec: BallSpec, release: Release, law: SurfaceLaw = SURFACE_LAW) -> float:
    """Return how far the doubt of a measured release moves this ball's path, one sd in boards.

    Each number is moved by its doubt; the widest distances are added in quadrature. By the reduced
    model: differences of its paths are those of the rigid ball.
    """
    lane = lane_friction(REFERENCE_FILM, spec, law=law)
    middle = roll(release, spec, lane)
    moved = [
        apart_boards(
            middle, roll(replace(release, **{name: getattr(release, name) + sd}), spec, lane)
        )
        for name, sd in DOUBTS.items()
    ]
    return math.hypot(*moved)


def apart_boards(one: Path, other: Path) -> float:
    """Return the widest distance between two paths from the arrows to the pins, in boards."""
    end = min(float(one.path_ft[-1]), float(other.path_ft[-1]))
    ft = np.linspace(ARROWS_FT, max(end, ARROWS_FT), 200)
    a = np.interp(ft, one.path_ft, one.path_board)
    b = np.interp(ft, other.path_ft, other.path_board)
    return float(np.max(np.abs(a - b)))


def overlaps(ordered: Sequence[Mapped]) -> Iterable[Overlap]:
    """Return the pairs of balls that do the same, the nearest first."""
    found = []
    for one, other in combinations(ordered, 2):
        apart = apart_boards(one.path, other.path)
        doubt = 0.5 * (one.doubt_boards + other.doubt_boards)
        if apart < doubt:
            found.append(Overlap(one, other, apart, doubt))
    return sorted(found, key=lambda overlap: overlap.apart_boards)


def gaps(ordered: Sequence[Mapped]) -> Iterable[Gap]:
    """Return where a ball is missing between two neighbours of the order."""
    arriving = [one for one in ordered if one.head_pin_board is not None]
    for stronger, weaker in pairwise(arriving):
        assert stronger.head_pin_board is not None
        assert weaker.head_pin_board is not None
        boards = stronger.head_pin_board - weaker.head_pin_board
        if boards > GAP_BOARDS:
            yield Gap(stronger, weaker, boards)


def _ordered(mapped: Iterable[Mapped]) -> tuple[Mapped, ...]:
    """Put the balls in order of their board at the head pin, and give each its line."""

    def key(one: Mapped) -> tuple[bool, float]:
        return one.head_pin_board is None, -(one.head_pin_board or 0.0)

    return tuple(
        replace(one, series=1 + n % 4, dash=DASHES[(n + n // 4) % 4])
        for n, one in enumerate(sorted(mapped, key=key))
    )


def _picture(client: Client, ordered: Sequence[Mapped]) -> LanePicture:
    ends = [
        f"{one.ball} ends in the gutter"
        if one.head_pin_board is None
        else f"{one.ball} meets the head pin at board {one.head_pin_board:.1f}"
        for one in ordered
    ]
    picture = LanePicture(
        title="The arsenal on the reference lane, from above",
        description=f"Paths over one another. {'; '.join(ends)}. The list gives the numbers.",
        hand=client.hand,
        key="arsenal",
    )
    for one in ordered:
        points = zip(one.path.path_ft.tolist(), one.path.path_board.tolist(), strict=True)
        picture.add_path(points, str(one.ball), series=one.series, dash=one.dash)
    for one in ordered:
        if one.path.hook_start_ft is not None:
            board = float(np.interp(one.path.hook_start_ft, one.path.path_ft, one.path.path_board))
            picture.add_mark(
                board,
                one.path.hook_start_ft,
                f"{one.ball}: hook can be seen",
                series=one.series,
                key="hook can be seen",
            )
        if one.path.breakpoint_board is not None and one.path.breakpoint_ft is not None:
            picture.add_mark(
                one.path.breakpoint_board,
                one.path.breakpoint_ft,
                f"{one.ball}: breakpoint",
                shape="triangle",
                series=one.series,
                key="breakpoint",
            )
    return picture
