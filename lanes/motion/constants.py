"""Every calibration parameter of the lane: what nobody publishes, in one place.

Lane, pin and ball dimensions are facts and stand in ``geometry.py``. What stands here is not: no
readable source ties friction to film thickness, to a cover or to an abrasive, or says how much oil
one ball takes along. So each value has bounds within which a fit or a better measurement may move
it, and says where it comes from. ``CALIBRATION`` is the table, for readers and for the page of
numbers; the plain names below it are the same values for the code that computes with them.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Parameter:
    """One calibration parameter: ``value`` in ``unit``, thought to lie from ``low`` to ``high``."""

    name: str
    value: float
    low: float
    high: float
    unit: str
    source: str

    def __post_init__(self) -> None:
        if not self.low <= self.value <= self.high:
            raise ValueError(f"{self.name}: {self.value:g} lies outside its own bounds")


def _covers(
    name: str, unit: str, source: str, **rows: tuple[float, float, float]
) -> list[Parameter]:
    return [Parameter(f"{name}_{cover}", *row, unit, source) for cover, row in rows.items()]


# What is fitted to measured data is the ordinary house pattern (``oil.HOUSE``), with the three
# numbers of the law held: to the robot table's forgiveness and trends and to ordinary lines.
_LAW = "assumed; the house pattern is fitted with it, see tests/benchmarks/robot_table.py"
_SURFACE = (
    "set so that surface outweighs RG (study of 2008), see tests/motion/test_published_signs.py"
)
_COVER = "assumed; a share of an average reactive ball's (hybrid, 2000 grit)"

_ROWS = [
    # Friction of an average reactive ball: mu = dry - (dry - oil) (1 - exp(-film / soak)).
    # The published pair 0.20 dry, 0.04 in oil (a talk of 2007 after a paper of 2004) has one value
    # for all of the oil, and hooks too early with it; ours is lower under thick film and higher
    # under thin. The robot table asks for this low value in the oil: with 0.03 its fit leaves a
    # third more.
    Parameter("mu_dry", 0.205, 0.12, 0.30, "", _LAW),
    Parameter("mu_oil", 0.013, 0.005, 0.06, "", _LAW),
    Parameter("soak", 5.1, 1.0, 10.0, "units of film", _LAW + "; 63 % of the friction is lost"),
    # Covers: urethane reads early, plastic hardly reads (common practice, no source).
    *_covers(
        "dry", "", _COVER,
        solid=(1.04, 0.9, 1.2), hybrid=(1.00, 0.9, 1.1), pearl=(0.96, 0.8, 1.1),
        urethane=(0.80, 0.6, 1.1), plastic=(0.55, 0.3, 0.8),
    ),
    *_covers(
        "oil", "", _COVER,
        solid=(1.05, 0.9, 1.3), hybrid=(1.00, 0.9, 1.1), pearl=(0.93, 0.7, 1.1),
        urethane=(1.15, 0.8, 1.5), plastic=(0.70, 0.4, 1.0),
    ),
    *_covers(
        "soak", "", _COVER,
        solid=(1.05, 0.9, 1.2), hybrid=(1.00, 0.9, 1.1), pearl=(0.95, 0.8, 1.1),
        urethane=(1.10, 0.8, 1.4), plastic=(0.80, 0.5, 1.0),
    ),
    # Surface. A pad's number is not the ball's: a ball that read about 3000 gave 1651 after one
    # 500-grit pad (governing body's newsletter), a third of the way in logarithm. So a cover's
    # number lies between the pad's and that of a lane-worn cover, to which games bring it back.
    Parameter("lane_worn_grit", 3000.0, 2000.0, 5000.0, "grit", "assumed, as the ball measured"),
    Parameter("pad_share", 1 / 3, 0.2, 1.0, "of the way, in logarithm", "one ball, one pad"),
    Parameter(
        "settle_games", 20.0, 10.0, 60.0, "games until 37 % of a surface is left",
        "assumed; a loss of reaction begins after 7 to 14 games (shop page citing a study)",
    ),
    # Friction goes as (number of a fresh 2000 pad / number) to these powers; rougher is stronger,
    # and more so in oil.
    Parameter("grit_reference", 2000.0, 2000.0, 2000.0, "grit", "here the factors are 1; a choice"),
    Parameter("grit_power_dry", 0.22, 0.0, 0.45, "", _SURFACE),
    Parameter("grit_power_oil", 0.55, 0.0, 0.75, "", _SURFACE),
    Parameter("polish_dry", 0.96, 0.8, 1.0, "", "assumed"),
    Parameter("polish_oil", 0.90, 0.8, 1.0, "", "assumed"),
    # What a ball's contact and its wobble see of the film's edges: a Gaussian both ways.
    Parameter("smear_boards", 1.2, 0.3, 2.0, "boards, sd", "assumed"),
    Parameter("smear_ft", 1.0, 0.5, 4.0, "ft, sd", "assumed"),
    # The machine's buffer brush past the end of a layer.
    Parameter("brush_share", 0.5, 0.0, 1.0, "of the layer's film, where it ends", "assumed"),
    Parameter("brush_ft", 2.0, 0.5, 8.0, "ft in which that falls to 37 %", "assumed"),
    # A rolling ball: the normal force runs ahead of the contact by this share of the radius.
    Parameter("rolling_resistance", 0.002, 0.0, 0.01, "", "assumed; hard ball on a hard floor"),
    # Tape readings that stop before the oil does.
    Parameter("tape_end", 4.0, 1.0, 10.0, "ft from the last oiled tape to no oil", "assumed"),
    # Wear: one ball and the oil (``wear.py``). A trial moved the head pin 1 to 5 boards in 40 shots
    # with 2 to 5 % taken up in a strip of 0.8 board and 30 % of it laid further on.
    Parameter("contact", 0.25, 0.15, 0.5, "in, width", "about a quarter inch (trial)"),
    Parameter("uptake", 0.30, 0.10, 0.50, "of the film under a clean contact", "from that trial"),
    Parameter("strip", 0.8, 0.3, 1.6, "boards, sd", "that trial; a steady bowler's scatter in it"),
    Parameter("carry", 0.30, 0.05, 0.80, "of what is taken up, laid further on", "that trial"),
    Parameter("lay_ft", 8.0, 3.0, 30.0, "ft in which 63 % of that is laid", "assumed"),
    Parameter("reuse", 0.5, 0.0, 1.0, "of the uptake left to an oily ring", "assumed"),
    *_covers(
        "uptake", "", "assumed; a share of a hybrid's",
        solid=(1.1, 0.8, 1.5), hybrid=(1.0, 0.8, 1.2), pearl=(0.9, 0.6, 1.2),
        urethane=(0.8, 0.5, 1.2), plastic=(0.5, 0.2, 0.9),
    ),
    *_covers(
        "carry", "", "assumed; a share of a hybrid's, covers that absorb little carry on more",
        solid=(0.9, 0.7, 1.2), hybrid=(1.0, 0.8, 1.2), pearl=(1.1, 0.8, 1.5),
        urethane=(1.6, 1.0, 2.5), plastic=(2.2, 1.0, 3.0),
    ),
]  # fmt: skip

CALIBRATION: dict[str, Parameter] = {row.name: row for row in _ROWS}


def _value(name: str) -> float:
    return CALIBRATION[name].value


MU_DRY = _value("mu_dry")
MU_OIL = _value("mu_oil")
SOAK_UNITS = _value("soak")
# By cover: factors on the dry friction, on the friction in oil and on the film shrugged off.
COVER_FACTORS = {
    cover: (_value(f"dry_{cover}"), _value(f"oil_{cover}"), _value(f"soak_{cover}"))
    for cover in ("solid", "hybrid", "pearl", "urethane", "plastic")
}
LANE_WORN_GRIT = _value("lane_worn_grit")
PAD_SHARE = _value("pad_share")
SETTLE_GAMES = _value("settle_games")
REFERENCE_GRIT = _value("grit_reference")
GRIT_POWER_DRY = _value("grit_power_dry")
GRIT_POWER_OIL = _value("grit_power_oil")
POLISH_DRY = _value("polish_dry")
POLISH_OIL = _value("polish_oil")
ROLLING_RESISTANCE = _value("rolling_resistance")
SMEAR_BOARDS = _value("smear_boards")
SMEAR_FT = _value("smear_ft")
BRUSH_SHARE = _value("brush_share")
BRUSH_FT = _value("brush_ft")
TAPE_END_FT = _value("tape_end")
CONTACT_IN = _value("contact")
UPTAKE = _value("uptake")
STRIP_BOARDS = _value("strip")
CARRY = _value("carry")
LAY_FT = _value("lay_ft")
REUSE_SHARE = _value("reuse")
# By cover: factors on what is taken up and on the share of it laid further on.
COVER_WEAR = {
    cover: (_value(f"uptake_{cover}"), _value(f"carry_{cover}")) for cover in COVER_FACTORS
}

# How the lane is cut into parts for its change over a session; a way of telling it, no measurement.
# "Front" fades into "mid" between these, and "back" begins where the oil ends. Feet.
FRONT_UNTIL_FT = 15.0
MID_FROM_FT = 25.0
BACK_RAMP_FT = 4.0
