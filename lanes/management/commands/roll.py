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
    Path,
    Release,
    UniformLane,
    lane_friction,
    launch_for_target,
    roll,
)
from lanes.motion.balls import LIMITS as BALL_LIMITS
from lanes.motion.friction import worn
from lanes.motion.path import LIMITS as RELEASE_LIMITS

_RELEASE = ("speed_mph", "rev_rpm", "rotation_deg", "tilt_deg")
_BALL = ("rg_in", "differential_in", "intermediate_in", "mass_lb", "pin_to_pap_in", "grit")


class Command(NumbersCommand):
    help = "Roll one ball: breakpoint, boards, entry angle, speeds and the path."

    def add_arguments(self, parser: ArgumentParser) -> None:
        for name in _RELEASE:
            parser.add_argument(_option(name), type=number(*RELEASE_LIMITS[name]), required=True)
        parser.add_argument("--laydown", type=number(1, 39), required=True, help="board")
        parser.add_argument(
            "--target", type=number(1, 39), required=True, help="board that the launch points at"
        )
        parser.add_argument("--target-ft", type=number(5, 59.5), default=15.0)
        for name in _BALL:
            option = _option(name.removesuffix("_in"))
            parser.add_argument(option, dest=name, type=number(*BALL_LIMITS[name]))
        parser.add_argument("--cover", choices=COVERS)
        parser.add_argument("--polished", action="store_true", default=None)
        parser.add_argument("--hand", choices=("right", "left"), default="right")
        lane = parser.add_mutually_exclusive_group()
        lane.add_argument("--mu", type=number(0.001, 0.9), help="one friction value everywhere")
        lane.add_argument("--pattern", metavar="SHEET.csv")
        parser.add_argument("--shots-before", type=whole(0, 500), default=0)

    def answer(self, options: dict[str, Any]) -> dict[str, Any]:
        ball = BallSpec(
            "ball",
            cover=options["cover"],
            polished=options["polished"],
            **{name: options[name] for name in _BALL},
        )
        lane, described = _lane(options, ball)
        launch = launch_for_target(options["laydown"], options["target"], options["target_ft"])
        steepest = RELEASE_LIMITS["launch_deg"][1]
        if abs(launch) > steepest:
            raise bad_input(
                f"--target: a launch of {launch:.1f} deg given, at most {steepest:g} deg either "
                "way expected"
            )
        release = Release(
            *(options[name] for name in _RELEASE),
            laydown=options["laydown"],
            launch_deg=launch,
        )
        answer = _answer(roll(release, ball, lane))
        answer["launch_deg"] = round(release.launch_deg, 4)
        answer["hand"] = options["hand"]
        answer["lane"] = described
        answer["ball"] = {
            name: getattr(ball.filled(), name) for name in ("cover", "polished", *_BALL)
        }
        answer["ball_assumed"] = list(ball.assumed)
        return answer

    def words(self, answer: dict[str, Any]) -> str:
        lines = [f"Lane: {answer['lane']['words']}."]
        if answer["ball_assumed"]:
            lines.append("Assumed of the ball: " + ", ".join(answer["ball_assumed"]) + ".")
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
            lines.append(
                f"Hooks from {answer['hook_start_ft']:.0f} ft, "
                if answer["hook_start_ft"] is not None
                else "Does not hook, "
            )
            lines[-1] += (
                f"rolls from {rolled:.0f} ft."
                if rolled is not None
                else "still slipping at the pins."
            )
        lines.append(f"{'ft':>6} {'board':>6} {'mph':>6}  phase")
        lines += [
            f"{point['ft']:6.1f} {point['board']:6.1f} {point['speed_mph']:6.1f}  {point['phase']}"
            for i, point in enumerate(answer["path"])
            if i % 5 == 0 or i == len(answer["path"]) - 1
        ]
        return "\n".join(lines)


def _option(name: str) -> str:
    return "--" + name.replace("_", "-")


def _lane(options: dict[str, Any], ball: BallSpec) -> tuple[Lane, dict[str, Any]]:
    before = options["shots_before"]
    if options["mu"] is not None:
        words = f"friction {options['mu']:g} everywhere"
        words += "; no oil, so the balls before changed nothing" if before else ""
        return UniformLane(options["mu"]), {"kind": "uniform", "assumed": False, "words": words}
    assumed = options["pattern"] is None
    sheet: Oil = HOUSE if assumed else read_sheet(options["pattern"], "--pattern")
    lane = lane_friction(sheet.film(options["hand"]), ball, state=worn(before))
    words = f"{sheet.name}, {sheet.length_ft:g} ft, {sheet.total_ml:.1f} mL"
    words += " (assumed: no sheet given)" if assumed else ""
    words += f", after {before} balls (assumed wear)" if before else ""
    return lane, {
        "kind": "house" if assumed else sheet.kind,
        "name": sheet.name,
        "assumed": assumed,
        "shots_before": before,
        "words": words,
    }


def _answer(path: Path) -> dict[str, Any]:
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
        "hit": POCKET.name(path.head_pin_board),
    }
    if path.gutter_at_ft is not None:
        answer["gutter_at_ft"] = _r(path.gutter_at_ft)
    answer["path"] = [
        {key: _r(value) if key != "phase" else value for key, value in point.items()}
        for point in path.points
    ]
    return answer


def _r(value: float | None) -> float | None:
    return None if value is None else round(float(value), 4)
