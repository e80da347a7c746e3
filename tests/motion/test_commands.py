"""``roll`` and ``oil`` as their contracts say: keys, exit codes, one line for bad input."""

import csv
import json
import math
import subprocess
import sys
from io import StringIO
from pathlib import Path

import openpyxl
import pytest
from django.core.management import CommandError, call_command

from lanes.management.commands.oil import Command as Oil
from lanes.management.commands.roll import Command as Roll
from lanes.motion.constants import ROLLING_RESISTANCE

RELEASE = {
    "--speed-mph": "17.5",
    "--rev-rpm": "340",
    "--rotation-deg": "55",
    "--tilt-deg": "12",
    "--laydown": "20",
    "--target": "11.5",
}
SHEET = "layer,direction,from_ft,to_ft,first_board,last_board,ml\n1,forward,0,40,2,30,14\n"


def words(**changes):
    options = RELEASE | {"--" + key.replace("_", "-"): value for key, value in changes.items()}
    return [word for pair in options.items() for word in pair if word is not None]


def answer(command, *args):
    out = StringIO()
    call_command(command, *args, "--json", stdout=out)
    return json.loads(out.getvalue())


@pytest.fixture
def sheet(tmp_path):
    path = tmp_path / "made-up.csv"
    path.write_text(SHEET)
    return str(path)


def test_roll_prints_the_contract():
    told = answer("roll", *words())
    assert set(told) >= {
        "breakpoint", "arrows_board", "head_pin_board", "entry_angle_deg", "speed_at_pins_mph",
        "hook_start_ft", "roll_start_ft", "time_s", "path",
    }  # fmt: skip
    assert set(told["breakpoint"]) == {"board", "ft"}
    assert set(told["path"][0]) >= {"ft", "board", "speed_mph", "phase"}
    assert told["path"][0]["board"] == 20
    assert told["lane"]["assumed"] is True  # the house pattern is said to be assumed
    assert told["ball_assumed"]
    assert "gutter_at_ft" not in told


def test_roll_on_a_uniform_lane_follows_the_closed_form():
    # v_f = v0 - k/(1+k) u0 (4A of the facts), whatever the friction; k = (RG/R)^2, 27-in ball.
    told = answer("roll", *words(mu="0.15", rg="2.5", differential="0", laydown="35", target="20"))
    k = (2.5 / (27 / (2 * math.pi))) ** 2
    v0 = 17.5 * 0.44704
    surface = 340 * 2 * math.pi / 60 * math.cos(math.radians(12)) * 27 / (2 * math.pi) * 0.0254
    turn = math.radians(55)
    across = k / (1 + k) * surface * math.sin(turn)
    along = v0 - k / (1 + k) * (v0 - surface * math.cos(turn))
    # The release turns with the line of launch, fifteen boards in 15 ft outward.
    launch = math.degrees(math.atan2(15 * 41.5 / 39, 15 * 12))
    entry = math.degrees(math.atan2(across, along)) - launch
    assert told["launch_deg"] == pytest.approx(launch, abs=1e-3)
    assert told["entry_angle_deg"] == pytest.approx(entry, abs=2e-3)
    assert told["speed_at_pins_mph"] == pytest.approx(math.hypot(across, along) / 0.44704, abs=1e-3)


# Section 4B of the facts, the cases with one friction value: m/s, rpm, friction; then where it
# rolls (x, y in m; y alone where x is not given), speed and direction after. k = 0.4, R = 0.108 m.
CASES = {
    "a": (8.0, 300, 0.10, (0.6084, 12.7812), 6.4364, 6.1136),
    "b": (8.0, 416, 0.20, None, 6.7322, 8.1167),
    "c": (8.9408, 350, 0.12, (0.6553, 13.2136), 7.2304, 6.3502),
}


@pytest.mark.parametrize("case", CASES)
def test_roll_on_a_uniform_lane_gives_the_published_numbers(case):
    v0, rpm, mu, rolls_at, speed, direction = CASES[case]
    # The command's ball is 27 in round. The path depends on k and on the speed of its surface, so
    # RG and rev rate are chosen for the same of both. The line of launch is turned outward, lest
    # the ball run across the lane; the published x and y are along it.
    radius = 27 * 0.0254 / (2 * math.pi)
    board = 41.5 / 39 * 0.0254
    launch = math.atan2(16 * board, 15 * 0.3048)
    told = answer(
        "roll",
        *words(
            speed_mph=str(v0 / 0.44704), rev_rpm=str(rpm * 0.108 / radius), rotation_deg="45",
            tilt_deg="0", laydown="23.5", target="7.5", mu=str(mu), differential="0",
            rg=str(math.sqrt(0.4) * radius / 0.0254),
        ),
    )  # fmt: skip
    assert told["speed_at_pins_mph"] * 0.44704 == pytest.approx(speed, abs=2e-4)
    assert told["entry_angle_deg"] == pytest.approx(direction - math.degrees(launch), abs=5e-4)
    if rolls_at:
        x = rolls_at[0] * math.cos(launch) - rolls_at[1] * math.sin(launch)
        y = rolls_at[0] * math.sin(launch) + rolls_at[1] * math.cos(launch)
        assert told["roll_start_ft"] * 0.3048 == pytest.approx(y, abs=5e-4)
        # From there it goes straight on to the head pin, 59.5 ft out.
        on = x + (59.5 * 0.3048 - y) * math.tan(math.radians(direction) - launch)
        assert (told["head_pin_board"] - 23.5) * board == pytest.approx(on, abs=5e-4)
    assert "no rolling resistance" in told["lane"]["words"]


def test_a_rolling_ball_slows_a_little_on_a_real_lane():
    told = answer("roll", *words(differential="0", rg="2.5"))
    rolled = next(point for point in told["path"] if point["phase"] == "roll")
    seconds = (59.5 - rolled["ft"]) * 0.3048 / (told["speed_at_pins_mph"] * 0.44704)
    lost = (rolled["speed_mph"] - told["speed_at_pins_mph"]) * 0.44704
    # Resistance times g, over 1 + k for what turns (any text on a rolling sphere).
    k = (2.5 / (27 / (2 * math.pi))) ** 2
    assert lost == pytest.approx(ROLLING_RESISTANCE * 9.80665 * seconds / (1 + k), rel=0.02)


def test_the_axis_is_told_along_the_path():
    told = answer("roll", *words(differential="0.05"))
    start, pins = told["at_start"], told["at_pins"]
    assert start == {"rotation_deg": 55, "tilt_deg": 12, "rev_rpm": 340}
    # A ball that rolls turns about an axis square to its path, at the speed of its surface.
    assert pins["rotation_deg"] == pytest.approx(0, abs=0.1)
    surface = 27 * 0.0254 * math.cos(math.radians(pins["tilt_deg"]))
    assert pins["rev_rpm"] * surface / 60 == pytest.approx(
        told["speed_at_pins_mph"] * 0.44704, rel=2e-3
    )
    assert told["path"][-1]["tilt_deg"] == pins["tilt_deg"]
    assert 2 < told["flare_in"] < 9


def test_the_layout_acts_on_the_flare():
    # sin 2t: most with the pin 3-3/8 in from the PAP, little at 6-3/4 (section 6 of the facts).
    def flare(inches):
        return answer("roll", *words(differential="0.05", pin_to_pap=inches))["flare_in"]

    assert flare("3.375") > 1.5 * flare("6.75")


def test_games_on_the_surface_act():
    fresh, played = (answer("roll", *words(grit="500", games=games)) for games in ("0", "30"))
    assert played["head_pin_board"] < fresh["head_pin_board"] - 0.3
    assert played["ball"]["games"] == 30


def test_the_balls_before_wear_the_lane():
    # A trial of film depletion found 1 to 5 boards in 40 shots.
    fresh = answer("roll", *words())
    later = answer("roll", *words(shots_before="40"))
    assert 1 < later["head_pin_board"] - fresh["head_pin_board"] < 5
    assert later["lane"]["oil_left_ml"] < fresh["lane"]["oil_left_ml"] - 0.2
    assert "after 40 balls (40 thrown as this one" in later["lane"]["words"]


def test_other_bowlers_wear_their_own_side():
    fresh = answer("roll", *words(hand="left"))["head_pin_board"]
    same = answer("roll", *words(hand="left", others_left="40"))
    other = answer("roll", *words(hand="left", others_right="40"))
    assert same["head_pin_board"] - fresh > 0.5
    assert abs(other["head_pin_board"] - fresh) < 0.2
    assert "40 by ordinary left-handers" in same["lane"]["words"]
    assert answer("roll", *words(hand="left", others_left="40")) == same
    assert answer("roll", *words(hand="left", others_left="40", seed="2")) != same


def test_roll_takes_every_option_of_the_contract():
    told = answer(
        "roll",
        *words(
            target="16", target_ft="40", rg="2.5", differential="0.05", intermediate="0.01",
            mass_lb="14", pin_to_pap="4", angle_at_pin="60", angle_at_pap="30", cover="pearl",
            grit="3000", games="5", hand="left", shots_before="20", others_right="3",
            others_left="2", seed="7",
        ),
        "--polished",
    )  # fmt: skip
    assert told["ball"]["rg_in"] == 2.5
    assert told["ball"]["polished"] is True
    assert told["ball_assumed"] == []
    assert told["lane"]["shots_before"] == 20


def test_roll_into_the_gutter():
    told = answer("roll", *words(target="3"))
    assert 15 < told["gutter_at_ft"] < 60
    assert told["head_pin_board"] is None
    assert told["roll_start_ft"] is None
    assert told["at_pins"] is None


def test_roll_on_a_sheet_depends_on_the_hand(sheet):
    right = answer("roll", *words(pattern=sheet))
    left = answer("roll", *words(pattern=sheet, hand="left"))
    assert right["lane"]["assumed"] is False
    # The sheet leaves its boards 31 to 39 from the left dry: a right-hander's outside.
    assert right["breakpoint"]["board"] > left["breakpoint"]["board"]


def test_roll_in_words():
    out = StringIO()
    call_command("roll", *words(), stdout=out)
    assert "assumed: no sheet given" in out.getvalue()
    assert "Head pin: board" in out.getvalue()
    assert "Assumed of the ball: cover, rg, differential, mass lb, pin to pap" in out.getvalue()
    assert "Track flare" in out.getvalue()


def test_oil_prints_the_contract(sheet):
    told = answer("oil", sheet)
    assert told["total_ml"] == told["forward_ml"] == 14
    assert told["reverse_ml"] == 0
    assert told["length_ft"] == 40
    assert told["rule_of_31_exit_board"] == 9
    assert set(told["ratio"]) == {"crosswise", "inside_outside"}
    bands = {(zone["from_ft"], zone["first_board"]) for zone in told["film_by_zone"]}
    assert len(bands) == len(told["film_by_zone"]) == 42
    out = StringIO()
    call_command("oil", sheet, stdout=out)
    assert "Film in units" in out.getvalue()


TAPE = "ft,board,units\n" + "".join(
    f"{ft},{board},{oil if 3 < board < 37 else 5}\n"
    for ft, oil in ((8, 60), (22, 45), (38, 20), (42, 0))
    for board in (1, 5, 10, 15, 20, 25, 30, 35, 39)
)


def test_roll_and_oil_take_tape_readings_too(tmp_path):
    path = tmp_path / "league.csv"
    path.write_text(TAPE)
    told = answer("oil", str(path))
    assert told["kind"] == "tape"
    assert told["forward_ml"] is told["reverse_ml"] is None
    assert told["length_ft"] == 42 + 4  # the outside boards still hold 5 units on the last tape
    assert any("cannot be told" in note for note in told["notes"])
    out = StringIO()
    call_command("oil", str(path), stdout=out)
    assert "cannot be told" in out.getvalue()
    assert "forward," not in out.getvalue()
    rolled = answer("roll", *words(pattern=str(path)))
    assert rolled["lane"]["kind"] == "tape"
    assert rolled["lane"]["assumed"] is False


def test_a_workbook_reads_like_the_csv(tmp_path, sheet):
    book = openpyxl.Workbook()
    for row in csv.reader(SHEET.splitlines()):
        book.active.append([float(cell) if cell.isdecimal() else cell for cell in row])
    path = tmp_path / "made-up.xlsx"
    book.save(path)
    assert answer("oil", str(path)) == answer("oil", sheet)


BAD = [
    (Roll, words(speed_mph="fast"), "--speed-mph"),
    (Roll, words(speed_mph="99"), "5 to 35"),
    (Roll, words(speed_mph="nan"), "--speed-mph"),
    (Roll, words(laydown="55"), "1 to 39"),
    (Roll, words(cover="velvet"), "--cover"),
    (Roll, words(rg_in="2.5"), "unrecognized arguments"),
    (Roll, words(rg="9"), "--rg"),
    (Roll, words(shots_before="-3"), "--shots-before"),
    (Roll, words(mu="0.1", pattern="x.csv"), "not allowed with"),
    (Roll, words(differential="0.02", intermediate="0.03"), "--intermediate"),
    (Roll, words(games="-1"), "--games"),
    (Roll, words(angle_at_pap="200"), "--angle-at-pap"),
    (Roll, words(others_left="many"), "--others-left"),
    (Roll, words(laydown="39", target="1", target_ft="5"), "--target"),
    (Roll, words(pattern="/nowhere/x.csv"), "no such file"),
    (Roll, [], "required"),
    (Oil, ["/nowhere/x.csv"], "no such file"),
    (Oil, ["/"], "directory"),
    (Oil, [], "SHEET.csv"),
]


@pytest.mark.parametrize(("command", "args", "says"), BAD)
def test_bad_input_is_one_line_and_exit_2(command, args, says, capsys):
    name = command.__module__.rsplit(".", 1)[1]
    with pytest.raises(SystemExit) as stopped:
        command().run_from_argv(["manage.py", name, *args])
    said = capsys.readouterr()
    assert stopped.value.code == 2
    assert len(said.err.strip().splitlines()) == 1
    assert says in said.err.lower() or says in said.err
    assert said.out == ""


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "empty"),
        (b"\x89PNG\r\n\x1a\n\xff\xfe", "not UTF-8"),
        (b"shot,game\n1,1\n", "column missing"),
        (b"ft,board,units\n10,44,3\n", "row 2, board"),
        (b"PK\x03\x04 and no more", "cannot be read as a workbook"),
        (SHEET.encode() + b"2,forward,0,40,2,55,6\n", "row 3, last_board"),
        (b"x" * (6 * 1024 * 1024), "larger than 5 MB"),
    ],
)
def test_a_bad_sheet_names_the_row_and_field(data, says, tmp_path, capsys):
    path = tmp_path / "bad.csv"
    path.write_bytes(data)
    with pytest.raises(SystemExit) as stopped:
        Oil().run_from_argv(["manage.py", "oil", str(path)])
    said = capsys.readouterr().err
    assert stopped.value.code == 2
    assert len(said.strip().splitlines()) == 1
    assert says in said


def test_called_from_python_bad_input_raises_with_code_2():
    with pytest.raises(CommandError) as caught:
        call_command("roll", *words(speed_mph="fast"))
    assert caught.value.returncode == 2


def test_from_the_shell():
    root = Path(__file__).resolve().parents[2]
    done = subprocess.run(
        [sys.executable, "manage.py", "roll", *words(speed_mph="99")],
        cwd=root, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 2
    assert len(done.stderr.strip().splitlines()) == 1
