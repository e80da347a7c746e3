"""``layout`` as its contract says: keys, both ways, exit codes, one line for bad input."""

from __future__ import annotations

import json
import math
import subprocess
import sys
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from tests.house.scripts import ROOT

PAP = ("--pap-over", "5", "--pap-up", "0.5")
ANGLES = ("--pin-to-pap", "4.5", "--angle-at-pin", "40", "--angle-at-pap", "30")
DRILLED = ("--rg", "2.5", "--differential", "0.05", "--intermediate", "0.015", "--rev-rpm", "350")


def answer(*words: str) -> dict:
    out = StringIO()
    call_command("layout", *words, "--json", stdout=out)
    return json.loads(out.getvalue())


def test_the_contract_and_the_published_triangles():
    told = answer(*PAP, *ANGLES, *DRILLED)
    assert set(told) >= {
        "pin", "mass_bias", "pin_to_pap_in", "mass_bias_to_pap_in", "pin_to_val_in",
        "pin_to_grip_centre_in", "angle_at_pin_deg", "angle_at_pap_deg", "flare_in",
    }  # fmt: skip
    assert set(told["pin"]) == set(told["mass_bias"]) == {"over_in", "up_in"}
    # Section 6 of the facts: 4.5 and 30 give 1.9244 to the VAL, 4.5 and 40 give 3.6329 to the PAP.
    assert told["pin_to_val_in"] == pytest.approx(1.9244, abs=5e-5)
    assert told["mass_bias_to_pap_in"] == pytest.approx(3.6329, abs=5e-5)
    assert 0 < told["flare_in"] < 13.5


def test_places_give_the_angles_that_made_them():
    made = answer(*PAP, *ANGLES, *DRILLED)
    pin, mass_bias = made["pin"], made["mass_bias"]
    read = answer(
        *PAP,
        f"--pin-over={pin['over_in']}", f"--pin-up={pin['up_in']}",
        f"--mb-over={mass_bias['over_in']}", f"--mb-up={mass_bias['up_in']}",
        *DRILLED,
    )  # fmt: skip
    for name, value in made.items():
        if isinstance(value, float):
            assert read[name] == pytest.approx(value, abs=1e-5), name


def test_a_left_hander_has_the_same_numbers():
    right, left = (answer(*PAP, *ANGLES, *DRILLED, "--hand", hand) for hand in ("right", "left"))
    assert left.pop("hand") == "left"
    assert right.pop("hand") == "right"
    assert left == right


def test_a_pin_three_and_three_eighths_out_flares_most():
    """The sine law has its top at 3-3/8 in; a full differential flattens it, the ends stay low."""

    def flare(pin_to_pap: str) -> float:
        layout = ("--pin-to-pap", pin_to_pap, "--angle-at-pin", "90", "--angle-at-pap", "45")
        return answer(*PAP, *layout, "--rg", "2.5", "--differential", "0.02")["flare_in"]

    assert flare("3.375") > flare("1") > flare("0.1")
    assert flare("3.375") > flare("6") > flare("6.75")


def test_flare_rests_on_the_reference_lane_and_says_so():
    told = answer(*PAP, *ANGLES, "--differential", "0.05")
    assert told["flare"]["lane"] == "reference"
    assert "rg_in" in told["flare"]["assumed"]
    faster = answer(*PAP, *ANGLES, "--differential", "0.05", "--rev-rpm", "450")
    assert faster["flare_in"] != told["flare_in"]
    assert answer(*PAP, *ANGLES)["flare_in"] is None


def test_a_symmetric_ball_needs_no_mass_bias():
    told = answer(*PAP, "--pin-over", "2", "--pin-up", "2", "--differential", "0.05")
    assert told["mass_bias"] is None
    assert told["angle_at_pin_deg"] is None
    assert told["flare_in"] > 0
    # Any mass bias will do where its differential is nought: the same flare with one.
    pin_to_pap = told["pin_to_pap_in"]
    with_one = answer(
        *PAP, "--pin-to-pap", str(pin_to_pap), "--angle-at-pin", "20",
        "--angle-at-pap", str(told["angle_at_pap_deg"]), "--differential", "0.05",
    )  # fmt: skip
    assert with_one["flare_in"] == pytest.approx(told["flare_in"], abs=0.02)


def test_a_pin_on_the_axis_has_no_angles_and_says_so():
    layout = ("--pin-to-pap", "0", "--angle-at-pin", "40", "--angle-at-pap", "30")
    told = answer(*PAP, *layout)
    assert told["pin"] == {"over_in": 5.0, "up_in": 0.5}
    assert told["angle_at_pap_deg"] is None
    assert told["mass_bias"] is None
    assert any("on the axis" in note for note in told["notes"])


def test_words_name_each_thing():
    out = StringIO()
    call_command("layout", *PAP, *ANGLES, *DRILLED, stdout=out)
    text = out.getvalue()
    for name in ("Pin:", "Mass bias:", "Pin to VAL: 1.92 in", "Angle at the pin: 40.00 deg",
                 "Flare:", "reference lane"):  # fmt: skip
        assert name in text


@pytest.mark.parametrize(
    ("words", "names"),
    [
        (PAP, ["--pin-over", "--pin-to-pap"]),
        ((*PAP, "--pin-over", "2"), ["--pin-up"]),
        ((*PAP, "--pin-over", "2", "--pin-up", "2", "--mb-over", "3"), ["--mb-up"]),
        ((*PAP, "--mb-over", "2", "--mb-up", "2"), ["--pin-over"]),
        ((*PAP, "--pin-to-pap", "4", "--angle-at-pap", "30"), ["--angle-at-pin"]),
        ((*PAP, *ANGLES, "--pin-over", "2"), ["--pin-to-pap", "--pin-over"]),
        (("--pap-over", "5", *ANGLES), ["--pap-up"]),
        (("--pap-over", "five", "--pap-up", "0", *ANGLES), ["--pap-over", "'five'"]),
        ((*PAP, *ANGLES, "--differential", "0.5"), ["--differential", "0.08"]),
        ((*PAP, *ANGLES, "--hand", "both"), ["--hand"]),
        (
            (*PAP, *ANGLES, "--differential", "0.02", "--intermediate", "0.03"),
            ["--intermediate", "0.02"],
        ),
        (
            (*PAP, "--pin-over", "2", "--pin-up", "2", "--differential", "0.05",
             "--intermediate", "0.02"),
            ["--intermediate", "mass bias"],
        ),
        (
            (*PAP, "--pin-over", "2", "--pin-up", "2", "--mb-over", "2", "--mb-up", "2.1",
             "--differential", "0.05"),
            ["--mb-over"],
        ),
    ],
)  # fmt: skip
def test_bad_input_gets_one_line_and_exit_2(words, names):
    with pytest.raises(CommandError) as error:
        call_command("layout", *words)
    message = str(error.value)
    assert error.value.returncode == 2
    assert "\n" not in message
    for name in names:
        assert name in message, message


def test_exit_code_and_standard_error_of_the_real_command():
    done = subprocess.run(
        [sys.executable, "manage.py", "layout", *PAP, "--pin-over", "2"],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 2
    assert done.stdout == ""
    assert len(done.stderr.strip().splitlines()) == 1
    assert "--pin-up" in done.stderr


def test_the_distances_by_the_cosine_rule_of_navigation():
    """Pin to PAP and to the grip centre of places, by the spherical law of cosines."""
    told = answer("--pap-over", "4.75", "--pap-up", "-0.25", "--pin-over", "-1", "--pin-up", "3")

    def apart(over1: float, up1: float, over2: float, up2: float) -> float:
        a, b, c, d = (math.radians(v * 360 / 27) for v in (over1, up1, over2, up2))
        cosine = math.sin(b) * math.sin(d) + math.cos(b) * math.cos(d) * math.cos(c - a)
        return math.degrees(math.acos(cosine)) * 27 / 360

    assert told["pin_to_pap_in"] == pytest.approx(apart(4.75, -0.25, -1, 3), abs=1e-6)
    assert told["pin_to_grip_centre_in"] == pytest.approx(apart(0, 0, -1, 3), abs=1e-6)
