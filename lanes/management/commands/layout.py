"""``manage.py layout``: places, distances and angles of one layout, and the flare it makes."""

from __future__ import annotations

from argparse import ArgumentParser
from dataclasses import replace
from typing import Any

from clients.drilling import Layout, LayoutError, Place
from lanes.layout_sheet import orientation as orientation_of
from lanes.management.base import NumbersCommand, bad_input, number
from lanes.motion import BallSpec
from lanes.motion.balls import LIMITS as BALL_LIMITS
from lanes.motion.path import LIMITS as RELEASE_LIMITS
from lanes.motion.reference import MIDDLE, REFERENCE_VERSION, on_reference_lane

_HALF, _QUARTER = 13.5, 6.75  # inches around a 27-in ball
_PLACES = {
    "pin_over": (-_HALF, _HALF),
    "pin_up": (-_QUARTER, _QUARTER),
    "mb_over": (-_HALF, _HALF),
    "mb_up": (-_QUARTER, _QUARTER),
}
_ANGLES = {
    "pin_to_pap": (0.0, _HALF),
    "angle_at_pin": (-180.0, 180.0),
    "angle_at_pap": (-180.0, 180.0),
}
_BALL = {"rg": "rg_in", "differential": "differential_in", "intermediate": "intermediate_in"}
_DISTANCES = (
    "pin_to_pap_in",
    "mass_bias_to_pap_in",
    "pin_to_val_in",
    "pin_to_grip_centre_in",
    "angle_at_pin_deg",
    "angle_at_pap_deg",
)


class Command(NumbersCommand):
    help = "Turn a layout's places into distances and angles, or back, and tell its flare."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--hand", choices=("right", "left"), default="right")
        # A PAP usually lies 4 to 6.5 in over and slightly up; these hold every bowler.
        parser.add_argument("--pap-over", type=number(0.0, 10.0), required=True, metavar="IN")
        parser.add_argument("--pap-up", type=number(-5.0, 5.0), required=True, metavar="IN")
        for name, limits in (_PLACES | _ANGLES).items():
            parser.add_argument(_option(name), type=number(*limits))
        for name, field in _BALL.items():
            parser.add_argument(_option(name), type=number(*BALL_LIMITS[field]), metavar="IN")
        parser.add_argument("--rev-rpm", type=number(*RELEASE_LIMITS["rev_rpm"]))

    def answer(self, options: dict[str, Any]) -> dict[str, Any]:
        pap = Place(options["pap_over"], options["pap_up"])
        layout = _layout(pap, options)
        answer: dict[str, Any] = {
            "hand": options["hand"],
            "pap": _place(layout.pap),
            "pin": _place(layout.pin),
            "mass_bias": None if layout.mass_bias is None else _place(layout.mass_bias),
        }
        answer |= {name: _r(getattr(layout, name)) for name in _DISTANCES}
        flare, rests_on = _flare(layout, options)
        return answer | {"flare_in": flare, "flare": rests_on, "notes": layout.notes}

    def words(self, answer: dict[str, Any]) -> str:
        toward = "right" if answer["hand"] == "right" else "left"
        lines = [f"In inches along a 27-in ball; over is to the bowler's {toward}."]
        for label, name in (("PAP", "pap"), ("Pin", "pin"), ("Mass bias", "mass_bias")):
            place = answer[name]
            if place is not None:
                lines.append(f"{label}: {place['over_in']:.2f} over, {_up(place['up_in'])}.")
        for label, name, unit in (
            ("Pin to PAP", "pin_to_pap_in", "in"),
            ("Mass bias to PAP", "mass_bias_to_pap_in", "in"),
            ("Pin to VAL", "pin_to_val_in", "in"),
            ("Pin to grip centre", "pin_to_grip_centre_in", "in"),
            ("Angle at the pin", "angle_at_pin_deg", "deg"),
            ("Angle at the PAP", "angle_at_pap_deg", "deg"),
        ):
            if answer[name] is not None:
                lines.append(f"{label}: {answer[name]:.2f} {unit}.")
        if answer["flare_in"] is None:
            lines.append(f"Flare: {answer['flare']['words']}.")
        else:
            lines.append(f"Flare: {answer['flare_in']:.1f} in on {answer['flare']['words']}.")
        return "\n".join([*lines, *answer["notes"]])


def _layout(pap: Place, options: dict[str, Any]) -> Layout:
    """Return the layout of the places or of the angles, whichever are given."""
    places = [name for name in _PLACES if options[name] is not None]
    angles = [name for name in _ANGLES if options[name] is not None]
    if places and angles:
        raise bad_input(f"{_option(angles[0])}: not together with {_option(places[0])}; one way of "
                        "telling the layout expected")  # fmt: skip
    if not places and not angles:
        raise bad_input(
            "--pin-over and --pin-up, or --pin-to-pap, --angle-at-pin and --angle-at-pap expected"
        )
    needed = [*_ANGLES] if angles else ["pin_over", "pin_up"]
    if "mb_over" in places or "mb_up" in places:
        needed += ["mb_over", "mb_up"]
    for name in needed:
        if options[name] is None:
            raise bad_input(f"{_option(name)}: expected with {_option((places + angles)[0])}")
    if angles:
        try:
            return Layout.from_angles(pap, *(options[name] for name in _ANGLES))
        except LayoutError as error:
            raise bad_input(f"{_option(error.field.removesuffix('_in'))}: {error}") from None
    mass_bias = Place(options["mb_over"], options["mb_up"]) if "mb_over" in places else None
    return Layout(pap, Place(options["pin_over"], options["pin_up"]), mass_bias)


def _flare(layout: Layout, options: dict[str, Any]) -> tuple[float | None, dict[str, Any]]:
    """Return the flare on the reference lane in inches, and what it rests on."""
    ball = BallSpec("ball", **{field: options[name] for name, field in _BALL.items()})
    if ball.differential_in is None:
        return None, {"words": "not told, it needs --differential"}
    if (ball.intermediate_in or 0.0) > ball.differential_in:
        raise bad_input(
            f"--intermediate: {ball.intermediate_in:g} given, at most the differential "
            f"{ball.differential_in:g} expected"
        )
    if ball.intermediate_in and layout.mass_bias is None:
        raise bad_input(
            "--intermediate: a ball with one has a mass bias; its place, or a pin off the axis "
            "with --angle-at-pin, expected"
        )
    try:
        orientation = orientation_of(layout)
    except ValueError as error:
        raise bad_input(f"--mb-over: {error}") from None
    release = MIDDLE
    if options["rev_rpm"] is not None:
        release = replace(MIDDLE, rev_rpm=options["rev_rpm"])
    path = on_reference_lane(ball, release, orientation)
    full = ball.filled()
    words = (
        f"our reference lane (version {REFERENCE_VERSION}) with a {full.cover} cover at "
        f"{full.grit:g} grit, at {release.speed_mph:g} mph, {release.rev_rpm:g} rpm, "
        f"{release.rotation_deg:g} deg of rotation and {release.tilt_deg:g} of tilt"
    )
    assumed = [name for name in ball.assumed if name != "pin_to_pap_in"]
    if "rg_in" in assumed:
        words += f"; an RG of {full.rg_in:g} in is assumed"
    return _r(path.flare_in), {
        "lane": "reference",
        "version": REFERENCE_VERSION,
        "speed_mph": release.speed_mph,
        "rev_rpm": release.rev_rpm,
        "rotation_deg": release.rotation_deg,
        "tilt_deg": release.tilt_deg,
        "assumed": assumed,
        "words": words,
    }


def _option(name: str) -> str:
    return "--" + name.replace("_", "-")


def _place(place: Place) -> dict[str, float]:
    return {"over_in": round(place.over_in, 6), "up_in": round(place.up_in, 6)}


def _up(inches: float) -> str:
    return f"{inches:.2f} up" if inches >= 0 else f"{-inches:.2f} down"


def _r(value: float | None) -> float | None:
    return None if value is None else round(float(value), 6)
