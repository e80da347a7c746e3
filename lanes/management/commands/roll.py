"""``manage.py roll``: one ball down one lane."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from lanes.management.base import NumbersCommand, bad_input, number, read_sheet, whole
from lanes.motion import (
    COVERS,
    HOUSE,
    POCKET,
    BallSpec,
    Lane,
    Oil,
    Release,
    RigidPath,
    Throw,
    UniformLane,
    after,
    lane_friction,
    launch_for_target,
    others,
    roll_rigid,
)
from lanes.motion.balls import LIMITS as BALL_LIMITS
from lanes.motion.constants import ROLLING_RESISTANCE
from lanes.motion.path import LIMITS as RELEASE_LIMITS
from lanes.motion.wear import in_turns

_RELEASE = ("speed_mph", "rev_rpm", "rotation_deg", "tilt_deg")
_BALL = (
    "rg_in",
    "differential_in",
    "intermediate_in",
    "mass_lb",
    "pin_to_pap_in",
    "angle_at_pin_deg",
    "angle_at_pap_deg",
    "grit",
    "games",
)
# Of these a silent zero is no guess worth telling: symmetric, and a surface as it was made.
_ZERO_IF_UNSAID = ("intermediate_in", "games")
_MOST_BEFORE = 500  # of each kind of bowler; a lane is oiled again long before


class Command(NumbersCommand):
    help = "Roll one ball: breakpoint, boards, entry angle, speeds and the path."

    def add_arguments(self, parser: ArgumentParser) -> None:
        for name in _RELEASE:
            parser.add_argument(
                "--" + name.replace("_", "-"), type=number(*RELEASE_LIMITS[name]), required=True
            )
        parser.add_argument("--laydown", type=number(1, 39), required=True, help="board")
        parser.add_argument(
            "--target", type=number(1, 39), required=True, help="board that the launch points at"
        )
        parser.add_argument("--target-ft", type=number(5, 59.5), default=15.0)
        for name in _BALL:
            parser.add_argument(_option(name), dest=name, type=number(*BALL_LIMITS[name]))
        parser.add_argument("--cover", choices=COVERS)
        parser.add_argument("--polished", action="store_true", default=None)
        parser.add_argument("--hand", choices=("right", "left"), default="right")
        lane = parser.add_mutually_exclusive_group()
        lane.add_argument("--mu", type=number(0.001, 0.9), help="one friction value everywhere")
        lane.add_argument("--pattern", metavar="SHEET.csv", help="or tape readings")
        before = whole(0, _MOST_BEFORE)
        parser.add_argument(
            "--shots-before", type=before, default=0, help="balls thrown before as this one"
        )
        parser.add_argument(
            "--others-right", type=before, default=0, help="and by ordinary right-handers"
        )
        parser.add_argument("--others-left", type=before, default=0, help="and left-handers")
        parser.add_argument(
            "--seed", type=whole(0, 2**31 - 1), default=1, help="of those ordinary bowlers"
        )

    def answer(self, options: dict[str, Any]) -> dict[str, Any]:
        ball = BallSpec(
            "ball",
            cover=options["cover"],
            polished=options["polished"],
            **{name: options[name] for name in _BALL},
        )
        launch = launch_for_target(options["laydown"], options["target"], options["target_ft"])
        steepest = RELEASE_LIMITS["launch_deg"][1]
        if abs(launch) > steepest:
            raise bad_input(
                f"--target: a launch of {launch:.1f} deg given, at most {steepest:g} deg either "
                "way expected"
            )
        full = ball.filled()
        assert full.intermediate_in is not None
        assert full.differential_in is not None
        if full.intermediate_in > full.differential_in:
            raise bad_input(
                f"--intermediate: {full.intermediate_in:g} given, at most the differential of "
                f"{full.differential_in:g} expected"
            )
        release = Release(
            *(options[name] for name in _RELEASE),
            laydown=options["laydown"],
            launch_deg=launch,
        )
        lane, resistance, described = _lane(options, release, ball)
        answer = _answer(roll_rigid(release, ball, lane, resistance=resistance))
        answer["launch_deg"] = round(release.launch_deg, 4)
        answer["hand"] = options["hand"]
        answer["lane"] = described
        answer["ball"] = {name: getattr(full, name) for name in ("cover", "polished", *_BALL)}
        answer["ball_assumed"] = [
            name
            for name in ("cover", *_BALL)
            if getattr(ball, name) is None and name not in _ZERO_IF_UNSAID
        ]
        return answer

    def words(self, answer: dict[str, Any]) -> str:
        lines = [f"Lane: {answer['lane']['words']}."]
        if answer["ball_assumed"]:
            named = (_option(name).strip("-").replace("-", " ") for name in answer["ball_assumed"])
            lines.append(f"Assumed of the ball: {', '.join(named)}.")
        lines.append(f"Launch {answer['launch_deg']:.2f} deg outward.")
        if answer["arrows_board"] is not None:
            lines.append(f"Arrows: board {answer['arrows_board']:.1f}.")
        turn = answer["breakpoint"]
        lines.append(
            f"Breakpoint: board {turn['board']:.1f} at {turn['ft']:.1f} ft."
            if turn["board"] is not None
            else "Breakpoint: none before the path ends."
        )
        if "gutter_at_ft" in answer:
            lines.append(f"In the gutter at {answer['gutter_at_ft']:.1f} ft.")
        else:
            rolled = answer["roll_start_ft"]
            lines.append(
                f"Head pin: board {answer['head_pin_board']:.1f} ({answer['hit']}), entry angle "
                f"{answer['entry_angle_deg']:.1f} deg, {answer['speed_at_pins_mph']:.1f} mph "
                f"after {answer['time_s']:.2f} s."
            )
            hooked = answer["hook_start_ft"]
            hooks = f"Hooks from {hooked:.0f} ft" if hooked is not None else "Does not hook"
            rolls = (
                f"rolls from {rolled:.0f} ft"
                if rolled is not None
                else f"still slips by {answer['slip_at_pins_mps']:.1f} m/s at the pins"
            )
            lines.append(f"{hooks}, {rolls}. Track flare {answer['flare_in']:.1f} in.")
            lines.append("Axis at release and at the pins, deg and rpm:")
            lines += [
                f"  {where:<8} rotation {turn['rotation_deg']:5.1f}, tilt {turn['tilt_deg']:5.1f}, "
                f"rev rate {turn['rev_rpm']:4.0f}"
                for where, turn in (("release", answer["at_start"]), ("pins", answer["at_pins"]))
            ]
        lines.append(f"{'ft':>6} {'board':>6} {'mph':>6}  phase")
        lines += [
            f"{point['ft']:6.1f} {point['board']:6.1f} {point['speed_mph']:6.1f}  {point['phase']}"
            for i, point in enumerate(answer["path"])
            if i % 5 == 0 or i == len(answer["path"]) - 1
        ]
        return "\n".join(lines)


def _option(name: str) -> str:
    """Return a ball's option: its unit is the trade's and unsaid, but for pounds."""
    return "--" + name.removesuffix("_in").removesuffix("_deg").replace("_", "-")


def _lane(
    options: dict[str, Any], release: Release, ball: BallSpec
) -> tuple[Lane, float, dict[str, Any]]:
    """Return the lane, its rolling resistance, and what is said of it.

    One friction value everywhere is the textbook's lane: there a ball that rolls goes on for ever.
    """
    own, right, left = (options[name] for name in ("shots_before", "others_right", "others_left"))
    if options["mu"] is not None:
        words = f"friction {options['mu']:g} everywhere, no rolling resistance"
        words += "; no oil, so the balls before changed nothing" if own + right + left else ""
        described = {"kind": "uniform", "assumed": False, "words": words}
        return UniformLane(options["mu"]), 0.0, described
    assumed = options["pattern"] is None
    sheet: Oil = HOUSE if assumed else read_sheet(options["pattern"], "--pattern")
    hand = options["hand"]
    thrown = in_turns([Throw(release, ball)] * own, others(right, left, hand, options["seed"]))
    film = after(sheet.film(hand), thrown)
    words = f"{sheet.name}, {sheet.length_ft:g} ft, {sheet.total_ml:.1f} mL"
    words += " (assumed: no sheet given)" if assumed else ""
    words += _balls_before(own, right, left)
    return (
        lane_friction(film, ball),
        ROLLING_RESISTANCE,
        {
            "kind": "house" if assumed else sheet.kind,
            "name": sheet.name,
            "assumed": assumed,
            "shots_before": own,
            "others_right": right,
            "others_left": left,
            "oil_left_ml": _r(film.volume_ml),
            "words": words,
        },
    )


def _balls_before(own: int, right: int, left: int) -> str:
    told = [
        f"{count} {who}"
        for count, who in (
            (own, "thrown as this one, with a bowler's ordinary scatter"),
            (right, "by ordinary right-handers"),
            (left, "by ordinary left-handers"),
        )
        if count
    ]
    balls = "ball" if own + right + left == 1 else "balls"
    return f", after {own + right + left} {balls} ({', '.join(told)}; wear assumed)" if told else ""


def _answer(path: RigidPath) -> dict[str, Any]:
    answer: dict[str, Any] = {
        "breakpoint": {"board": _r(path.breakpoint_board), "ft": _r(path.breakpoint_ft)},
        "arrows_board": _r(path.arrows_board),
        "head_pin_board": _r(path.head_pin_board),
        "entry_angle_deg": _r(path.entry_angle_deg),
        "speed_at_pins_mph": _r(path.speed_at_pins_mph),
        "hook_start_ft": _r(path.hook_start_ft),
        "roll_start_ft": _r(path.roll_start_ft),
        "time_s": _r(path.time_s),
        "slip_at_pins_mps": _r(path.slip_at_pins_mps),
        "slip_side_mps": _r(path.slip_side_mps),
        "flare_in": _r(path.flare_in),
        "at_start": _turning(path, 0),
        "at_pins": _turning(path, -1) if path.gutter_at_ft is None else None,
        "hit": POCKET.name(path.head_pin_board),
    }
    if path.gutter_at_ft is not None:
        answer["gutter_at_ft"] = _r(path.gutter_at_ft)
    answer["path"] = [
        {key: _r(value) if key != "phase" else value for key, value in point.items()}
        | _turning(path, i)
        for i, point in enumerate(path.points)
    ]
    return answer


def _turning(path: RigidPath, at: int) -> dict[str, Any]:
    return {
        "rotation_deg": _r(path.rotation_deg[at]),
        "tilt_deg": _r(path.tilt_deg[at]),
        "rev_rpm": _r(path.rev_rpm[at]),
    }


def _r(value: float | None) -> float | None:
    return None if value is None else round(float(value), 4)
