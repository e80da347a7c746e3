"""One session of the harness: a student, a lane, a planted cause, the log of it, and the truth.

The student throws a planned line with misses of his own; the lane wears under every ball; the cause
of the scenario grows from its onset (a ball's surface changes at once). Its rate is set by
bisection on a few usual throws, so that the wanted size comes about by the end of the session
where the lane can give it at all; how large it became, and at which shot a burn reached two boards
at the breakpoint, is computed on the lane as it was and kept as ``Truth``.

What people read has Student errors with three degrees of freedom, is rounded to halves (often to
whole boards) and has gaps; the same readings serve the log with all fields and the one without.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from lanes.motion import BallSpec
from lanes.motion.oil import Layer, PatternSheet
from lanes.reading.client import ClientFacts
from lanes.reading.shots import LoggedShot

from . import ball, lane, logbook
from .ball import BOARD, FOOT, LOW, LOW_FT, PIN
from .scenarios import Scenario

STAND_ASIDE = 6.0  # boards between sliding foot and laydown
_TAKE = 0.020  # share of a thin film that one ball takes with a scenario's wear of 1
_KEPT = 0.6
_QUIET = 0.45  # boards that a session without a plant may drift at most, either check-point
_WILD = 0.04  # of the throws
_USUAL = 8  # throws around a line that say what a lane does to it
_QUICK = 4, 2  # while a strength is looked for: of these throws, and on every second shot


@dataclass(frozen=True)
class Ware:
    """A ball as the harness rolls it."""

    name: str
    cover: str
    grit: float
    polished: bool
    rg_in: float
    differential_in: float
    pin_to_pap_in: float
    roughened: float = 0.0

    def law(self) -> np.ndarray:
        return lane.law(self.cover, self.grit, self.polished, self.roughened)

    def moments(self) -> np.ndarray:
        return ball.moments_of(self.rg_in, self.differential_in)

    def spec(self) -> BallSpec:
        """What the log's owner knows of it."""
        return BallSpec(
            self.name,
            self.cover,
            self.grit,
            self.polished,
            rg_in=self.rg_in,
            differential_in=self.differential_in,
            intermediate_in=0.0,
            mass_lb=15.0,
            pin_to_pap_in=self.pin_to_pap_in,
        )


@dataclass(frozen=True)
class Line:
    """A planned line: board at laydown, board at the arrows, and what the log says of it."""

    laydown: float
    arrows: float
    stand: float
    aim: float

    def moved(self, feet: float, eyes: float) -> Line:
        return Line(
            self.laydown + feet, self.arrows + eyes, self.stand + feet, self.aim + eyes
        )  # fmt: skip

    def launch(self) -> float:
        """Launch out of a straight ball over both boards, degrees."""
        return float(
            np.degrees(np.arctan2((self.laydown - self.arrows) * BOARD, ball.ARROWS_FT * FOOT))
        )


@dataclass(eq=False)
class Truth:
    """What was true of a session. Arrays are by shot; boards, feet, degrees, shares.

    ``usual`` (n, 7) is what the planned throw without a fault of the student did on the lane of
    that shot, as the mean over the same few misses; ``thrown`` (n, 7) what the ball thrown did.
    ``size`` is the plant's at the end, over the same misses, at the head pin, ``size_low`` at the
    breakpoint, ``reached`` the index of the shot at which a
    burn reached two boards at the breakpoint (-1: never).
    """

    usual: np.ndarray
    thrown: np.ndarray
    size: float = 0.0
    size_low: float = 0.0
    reached: int = -1
    line_of: np.ndarray = field(default_factory=lambda: np.zeros(0, dtype=int))


@dataclass(eq=False)
class Session:
    """A finished session: logs with all and with missing fields, and what a reading is given."""

    scenario: Scenario
    full: tuple[LoggedShot, ...]
    missing: tuple[LoggedShot, ...]
    client: dict[str, ClientFacts]
    wares: list[Ware]
    sheet: PatternSheet | None
    truth: Truth
    films: list[np.ndarray]  # as they are after the last shot
    last_lines: dict[str, Line]  # the planned line thrown last with each ball
    student: Student
    speed_lost: float
    target_off: float
    roughened: float
    chances: dict[Any, float] = field(default_factory=dict)  # of options, once computed

    def shots(self, fields: str) -> tuple[LoggedShot, ...]:
        return self.full if fields == "full" else self.missing


class Student:
    """How this student throws: release, misses, and the attitude in which a ball is let go."""

    def __init__(self, s: Scenario) -> None:
        self.s = s
        half = np.random.default_rng([s.seed, 4]).standard_normal((_USUAL // 2, 6))
        self.spread = np.stack([half, -half], axis=1).reshape(_USUAL, 6)  # in pairs
        self._held: dict[float, np.ndarray] = {}

    def throws(self, line: Line, misses: np.ndarray, slower: float = 0.0, off: float = 0.0):
        """Return throws (n, 6) for misses (n, 6) in units of the student's scatter."""
        s = self.s
        out = np.empty((len(misses), 6))
        out[:, 0] = line.laydown + s.laydown_sd * misses[:, 0]
        aim = line.arrows + off + s.arrows_sd * misses[:, 1] + s.laydown_sd * misses[:, 0]
        out[:, 1] = np.degrees(np.arctan2((out[:, 0] - aim) * BOARD, ball.ARROWS_FT * FOOT))
        out[:, 2] = s.speed_mph - slower + s.speed_sd * misses[:, 2]
        out[:, 3] = s.rev_rpm + s.rev_sd * misses[:, 3]
        out[:, 4] = s.rotation_deg + 2.0 * misses[:, 4]
        out[:, 5] = s.tilt_deg + 1.0 * misses[:, 5]
        return out

    def roll(self, ware: Ware, throws: np.ndarray, film: np.ndarray):
        """Roll throws; returns results (n, 7) and paths (n, 61)."""
        attitude = self._held.get(ware.pin_to_pap_in)
        if attitude is None:
            attitude = ball.attitude_for(self.s.rotation_deg, self.s.tilt_deg, ware.pin_to_pap_in)
            self._held[ware.pin_to_pap_in] = attitude
        return ball.throw_all(throws, film, ware.law(), ware.moments(), attitude)

    def usual(self, ware: Ware, line: Line, film: np.ndarray, slower=0.0, off=0.0, some=_USUAL):
        """Return the mean result (7,) and the paths of the same few throws around a line.

        What a lane does to a student is what it does over his own misses: a groove that only the
        line without a miss would meet is none.
        """
        throws = self.throws(line, self.spread[:some], slower, off)
        found, paths = self.roll(ware, throws, film)
        known = np.isfinite(found)
        total = np.where(known, found, 0.0).sum(axis=0)
        count = known.sum(axis=0)
        return np.where(count > 0, total / np.maximum(count, 1), np.nan), paths


def find_line(student: Student, ware: Ware, film: np.ndarray, laydown: float) -> Line:
    """Return a line that meets the pocket with room, near this laydown.

    Among lines whose planned throw meets boards 17 to 18 one with the usual room (2.3 boards at the
    pins for one at the arrows, the robot table's middle) and an ordinary breakpoint, where the lane
    has one.
    """
    best, merit = None, np.inf
    for step in (0.0, 1.0, -1.0, 2.0, -2.0, 3.0, -3.0, 4.0, -4.0, 6.0, -6.0, 8.0, -8.0):
        foot = min(max(laydown + step, 10.0), 32.0)
        boards = np.arange(max(np.floor(foot) - 16.0, 3.0), foot - 0.5, 0.5)
        throws = np.concatenate(
            [student.throws(Line(foot, a, 0.0, 0.0), np.zeros((1, 6))) for a in boards]
        )
        rolled = student.roll(ware, throws, film)[0]
        pin, low, low_ft = rolled[:, PIN], rolled[:, LOW], rolled[:, LOW_FT]
        for i in range(2, len(boards) - 2):
            around = pin[i - 2 : i + 3]
            if not np.all(np.isfinite(around)):
                continue
            off = abs(pin[i] - 17.5)
            slope = (around[4] - around[0]) / 2.0
            found = 3.0 * max(off - 0.5, 0.0) + 0.4 * off + 0.3 * abs(slope - 2.3)
            found += 0.4 * max(4.5 - low[i], 0.0) + 0.2 * max(37.0 - low_ft[i], 0.0)
            found += 0.05 * abs(step)
            if found < merit:
                stand = round(2 * (foot + STAND_ASIDE)) / 2
                best, merit = Line(foot, float(boards[i]), stand, float(boards[i])), found
        if best is not None and merit < 0.8:
            break
    if best is None:
        raise ValueError("no line meets the pocket")
    return best


def _wares(s: Scenario, rng) -> list[Ware]:
    first = Ware(
        "A", "solid", float(rng.choice([1000, 1500, 2000, 3000])), False,
        round(float(rng.uniform(2.48, 2.54)), 2), s.differential_in, s.pin_to_pap_in,
    )  # fmt: skip
    second = Ware(
        "B", "pearl", float(rng.choice([2000, 3000, 4000])), True,
        round(float(rng.uniform(2.48, 2.56)), 2), 0.04, 4.5,
    )  # fmt: skip
    return [first, second]


class _Play:
    """The course of one session for a given strength of its cause."""

    def __init__(self, s: Scenario, wares, lines, films, order, misses, release) -> None:
        self.s, self.wares, self.lines, self.films = s, wares, lines, films
        self.order, self.misses = order, misses  # ball of each shot; (n, 6)
        self.student = release
        self.on = np.arange(s.shots) % len(films)  # the lane of a pair that each shot is on

    def course(self, i: int) -> float:
        """How much of the cause is there at shot ``i``, 0 to 1."""
        s = self.s
        if s.kind == "nothing" or i < s.onset:
            return 0.0
        if s.kind == "surface":
            return 1.0
        return (i - s.onset + 1) / (s.shots - s.onset)

    def line(self, i: int) -> tuple[Line, int]:
        """The planned line of shot ``i`` and its number: a burn may be followed in two moves."""
        s = self.s
        line = self.lines[self.order[i]]
        moves = 0
        if s.follows_after:
            moves = int(i >= s.onset + s.follows_after) + int(i >= s.onset + 2 * s.follows_after)
        return line.moved(1.5 * moves, 1.0 * moves), moves

    def run(self, strength: float, natural: float, thrown: bool = True):
        """Return usual (n, 7), thrown (n, 7), end films; ``strength`` of the cause.

        Without ``thrown`` the lane is worn by the usual throws alone, in larger steps, and only
        every second row of ``usual`` is there.
        """
        s = self.s
        films = [film.copy() for film in self.films]
        usual, real = np.full((s.shots, 7), np.nan), np.full((s.shots, 7), np.nan)
        some, every = (_USUAL, 1) if thrown else _QUICK
        for i in range(s.shots):
            film = films[i % len(films)]
            line, _ = self.line(i)
            ware = self.wares[self.order[i]]
            grown = self.course(i)
            if s.kind == "surface" and self.order[i] == 0:
                ware = replace(ware, roughened=strength * grown)
            if thrown:
                usual[i], paths = self.student.usual(ware, line, film)
                slower = strength * grown if s.kind == "slowing" else 0.0
                off = strength * grown if s.kind == "target" else 0.0
                throws = self.student.throws(line, self.misses[i : i + 1], slower, off)
                found, mine = self.student.roll(ware, throws, film)
                real[i] = found[0]
                lane.wear(film, mine[0], natural * _TAKE, _KEPT, 1.0)
            elif i // len(films) % every == 0:
                usual[i], paths = self.student.usual(ware, line, film, some=some)
                for path in paths:
                    lane.wear(film, path, natural * _TAKE, _KEPT, every / some)
            else:
                continue
            if grown and s.kind in ("burn", "carrydown"):  # others on the first line
                worn = self.student.usual(self.wares[0], self.lines[0], film, some=some)[1]
                for path in worn:
                    if s.kind == "burn":
                        lane.wear(film, path, strength, 0.9, every / some)
                    else:
                        lane.carry_down(film, path, s.length_ft, strength * every / some)
        return usual, real, films

    def size(self, strength: float, natural: float) -> tuple[float, float]:
        """Return how far the cause moves head pin and breakpoint by the end, over usual throws."""
        s = self.s
        ware, line, film = self.wares[0], self.lines[0], self.films[0]
        here = self.student.usual(ware, line, film)[0]
        if s.kind in ("slowing", "target"):
            slower = strength if s.kind == "slowing" else 0.0
            off = strength if s.kind == "target" else 0.0
            there = self.student.usual(ware, line, film, slower, off)[0]
        elif s.kind == "surface":
            there = self.student.usual(replace(ware, roughened=strength), line, film)[0]
        else:
            films = self.run(strength, natural, thrown=False)[2]
            there = self.student.usual(ware, line, films[0])[0]
        moved = there - here
        return float(np.nan_to_num(moved[PIN], nan=-20.0)), float(moved[LOW])


_MOST = {"burn": 1.2, "carrydown": 0.4, "slowing": 2.6, "target": 2.5, "surface": 2.0}


def _strength(play: _Play, natural: float) -> float:
    """Return the strength that gives the wanted size, by bisection over what is possible."""
    s = play.s
    if s.kind == "nothing":
        return 0.0
    wanted = abs(s.plant_boards)
    way = 1.0 if s.plant_boards > 0 or s.kind in ("burn", "carrydown") else -1.0
    column = 1 if s.kind == "burn" else 0
    low, high = 0.0, _MOST[s.kind]
    for _ in range(9):
        middle = 0.5 * (low + high)
        moved = play.size(way * middle, natural)[column]
        if abs(moved) < wanted:
            low = middle
        else:
            high = middle
    return way * 0.5 * (low + high)


def _natural(play: _Play, s: Scenario) -> float:
    """Return the lane's own wear, little enough that a session with nothing planted is quiet."""
    natural = s.wear
    for _ in range(12):
        usual = play.run(0.0, natural, thrown=False)[0]
        mine = (play.order == 0) & np.isfinite(usual[:, PIN]) & (play.on == 0)
        drift = np.ptp(usual[mine][:, [PIN, LOW]], axis=0)
        if np.all(np.isfinite(drift)) and np.all(drift < _QUIET):
            return natural
        natural *= 0.6
    return 0.0


def simulate(s: Scenario) -> Session:
    """Play one scenario. The same scenario gives the same session."""
    rng = np.random.default_rng([s.seed, 2])
    wares = _wares(s, rng)
    loads = lane.layers(s.length_ft, s.volume_ml)
    film = lane.lay(loads, s.film_factor)
    films = [film, lane.lay(loads, s.film_factor * float(np.exp(0.05 * rng.standard_normal())))]
    films = films[: 2 if s.pair else 1]
    student = Student(s)
    lines = [find_line(student, ware, film, s.laydown) for ware in wares]
    order = np.zeros(s.shots, dtype=int)
    if s.second_ball:
        order[int(rng.integers(2, 5)) :: s.second_every] = 1
    misses = rng.standard_normal((s.shots, 6))
    wild = rng.random(s.shots) < _WILD
    misses[wild, 1] *= 3.0
    quiet = replace(s, kind="nothing")
    natural = _natural(_Play(quiet, wares, lines, films, order, misses, student), s)
    play = _Play(s, wares, lines, films, order, misses, student)
    strength = _strength(play, natural)
    usual, thrown, worn = play.run(strength, natural)
    size, size_low = play.size(strength, natural)
    truth = Truth(usual, thrown, size, size_low)
    truth.line_of = np.array([100 * (i % len(films)) + 10 * order[i] + play.line(i)[1]
                              for i in range(s.shots)])  # fmt: skip
    if s.kind == "burn":
        mine = np.flatnonzero((order == 0) & (np.arange(s.shots) >= s.onset))
        line0 = [i for i in mine if play.line(i)[1] == 0]
        still = [np.flatnonzero((order == 0) & (play.on == play.on[i]))[0] for i in line0]
        moved = usual[line0, LOW] - usual[still, LOW]
        over = np.flatnonzero(moved >= 2.0)
        truth.reached = int(line0[over[0]]) if len(over) else -1
    full, missing = logbook.logs(s, play, strength, thrown, wild, rng)
    loads_known = PatternSheet(
        "the sheet", tuple(Layer(str(n), *row) for n, row in enumerate(loads, start=1))
    )
    last_lines = {ware.name: line for ware, line in zip(wares, lines, strict=True)}
    last_lines |= {wares[order[i]].name: play.line(i)[0] for i in range(s.shots)}
    return Session(
        scenario=s,
        full=full,
        missing=missing,
        client=logbook.clients(s, rng),
        wares=wares,
        sheet=loads_known if s.sheet_known else None,
        truth=truth,
        films=worn,
        last_lines=last_lines,
        student=student,
        speed_lost=strength if s.kind == "slowing" else 0.0,
        target_off=strength if s.kind == "target" else 0.0,
        roughened=strength if s.kind == "surface" else 0.0,
    )
