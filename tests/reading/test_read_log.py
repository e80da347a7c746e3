"""The command of DESIGN section 6: what it prints, and one clear line for bad input."""

import json
import subprocess
import sys
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from lanes.shotlog.write import write_csv, write_xlsx
from tests.proof import robot

from .simulator import session

CLIENT = {
    "hand": "right",
    "speed_mph": 17.6,
    "rev_rpm": 350,
    "rotation_deg": 55,
    "tilt_deg": 12,
    "balls": [{"name": "A", "cover": "solid", "grit": 2000}, {"name": "B", "cover": "pearl"}],
}
SHEET = "layer,direction,from_ft,to_ft,first_board,last_board,ml\n1,forward,0,40,2,38,20\n"


def run(*arguments):
    out = StringIO()
    call_command("read_log", *map(str, arguments), stdout=out)
    return out.getvalue()


@pytest.fixture
def log(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text(write_csv(session("mid burn", 1)))
    return path


@pytest.fixture
def client(tmp_path):
    path = tmp_path / "client.json"
    path.write_text(json.dumps(CLIENT))
    return path


def test_the_contracts_json(log, client, tmp_path):
    sheet = tmp_path / "sheet.csv"
    sheet.write_text(SHEET)
    reading = json.loads(run(log, "--client", client, "--pattern", sheet, "--json"))
    shot = reading["shots"][0]
    assert set(shot) >= {"shot", "throw", "hit", "leave_name", "entry_angle_deg",
                         "entry_angle_sd", "deflection_boards", "cause"}  # fmt: skip
    assert set(shot["throw"]) >= {"verdict", "why"}
    (change, *_) = reading["transition"]["changes"]
    assert set(change) >= {"shot", "where", "p"}
    assert set(reading["transition"]["drift"]) >= {"arrows", "breakpoint", "head_pin"}
    assert set(reading["options"][0]) >= {
        "kind", "detail", "strike", "strike_interval", "room_boards", "why",
    }  # fmt: skip


def test_a_readable_summary_without_json(log, client):
    told = run(log, "--client", client)
    assert told.startswith("The lane changed")
    assert "computed racks" in told
    assert "No pattern sheet" in told


def test_xlsx_reads_as_csv_does(log, client, tmp_path):
    book = tmp_path / "log.xlsx"
    book.write_bytes(write_xlsx(session("mid burn", 1)))
    assert run(book, "--client", client, "--json") == run(log, "--client", client, "--json")


def test_unknown_columns_are_kept_and_reported(log):
    rows = log.read_text().splitlines()
    log.write_text("\n".join([rows[0] + ",weather", *(row + ",dry" for row in rows[1:])]))
    assert json.loads(run(log, "--json"))["file"]["unknown_columns"] == ["weather"]


def test_the_same_seed_gives_the_same_answer(log):
    assert run(log, "--json", "--seed", "7") == run(log, "--json", "--seed", "7")


def refused(*arguments):
    with pytest.raises(CommandError) as caught:
        run(*arguments)
    assert caught.value.returncode == 2
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_a_what_if_begins_where_it_is_asked_and_with_the_option_asked(log, client):
    """By its number in the list as it is printed; what is left out is as without the question."""
    plain = json.loads(run(log, "--client", client, "--json"))
    asked = ("--what-if-from", 11, "--what-if-option", 2)
    told = json.loads(run(log, "--client", client, *asked, "--json"))
    assert (told["what_if"]["from_shot"], told["what_if"]["option"]) == (11, 1)
    assert told["what_if"]["shots"] == sum(
        shot["first_ball"] and shot["shot"] >= 11 for shot in told["shots"]
    )
    assert {**told, "what_if": None} == {**plain, "what_if": None}
    later = json.loads(run(log, "--client", client, "--what-if-from", 30, "--json"))["what_if"]
    assert (later["from_shot"], later["option"]) == (30, plain["what_if"]["option"])
    words = run(log, "--client", client, *asked)
    assert f"What if ({told['options'][1]['title']}): Of the" in words


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        (("--what-if-from", "x"), "--what-if-from: 'x' given, a whole number"),
        (("--what-if-from", 49), "--what-if-from: 49 given, the number of a shot in this log"),
        (("--what-if-from", 46), "--what-if-from: from shot 46 on fewer than 5 first balls"),
        (("--what-if-option", 0), "--what-if-option: '0' given, a whole number"),
        (("--what-if-option", 99), "--what-if-option: 99 given, the number of an option from 1"),
    ],
)
def test_a_what_if_that_cannot_be_told_is_refused(log, client, asked, told):
    assert told in refused(log, "--client", client, *asked)


def test_a_log_too_thin_for_options_has_no_what_if(tmp_path):
    thin = tmp_path / "thin.csv"
    thin.write_text("shot,arrows\n1,11\n2,12\n3,11\n")
    assert "--what-if-from: no option could be weighed" in refused(thin, "--what-if-from", 1)


def test_the_help_has_words_for_the_what_if(capsys):
    with pytest.raises(SystemExit):
        call_command("read_log", "--help")
    told = " ".join(capsys.readouterr().out.split())
    assert "ask what if from this shot of the log on" in told
    assert "its number in the list of options" in told


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"hand": None}, "hand"),
        ({"hand": "both"}, "hand"),
        ({"speed_mph": "fast"}, "speed_mph"),
        ({"speed_mph": 170}, "speed_mph"),
        ({"rev_rpm": True}, "rev_rpm"),
        ({"balls": {"name": "A"}}, "balls"),
        ({"balls": [{"cover": "solid"}]}, "balls[1].name"),
        ({"balls": [{"name": "A"}, {"name": "A"}]}, "twice"),
        ({"balls": [{"name": "A", "cover": "wood"}]}, "balls[1].cover"),
        ({"balls": [{"name": "A", "grit": -5}]}, "balls[1].grit"),
        ({"balls": [{"name": "A", "polished": "yes"}]}, "balls[1].polished"),
    ],
)
def test_a_bad_client_names_the_field(log, client, change, field):
    client.write_text(json.dumps(CLIENT | change))
    message = refused(log, "--client", client)
    assert field in message
    assert "expected" in message or "twice" in message


@pytest.mark.parametrize("text", ["", "[]", "{", "null", '{"hand": NaN}', "\ufeff"])
def test_a_client_that_is_no_json_object_is_refused(log, client, text):
    client.write_text(text, encoding="utf-8")
    assert "--client" in refused(log, "--client", client)


def test_a_client_in_binary_is_refused(log, client):
    client.write_bytes(b"\xff\xfe\x00\x01")
    assert "UTF-8" in refused(log, "--client", client)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "empty"),
        ("shot,head_pin\n", "no shots"),
        ("shot,head_pin\n1,17\n2,abc\n", "row 3, head_pin"),
        ("shot,arrows\n1,55\n", "row 2, arrows"),
        ("a,b\n1,2\n", "shot"),
    ],
)
def test_a_bad_log_names_the_row(log, text, told):
    log.write_text(text)
    assert told in refused(log)


def test_missing_files_are_named(log, tmp_path):
    assert "none.csv" in refused(tmp_path / "none.csv")
    assert "--client" in refused(log, "--client", tmp_path / "none.json")
    assert "--pattern" in refused(log, "--pattern", tmp_path / "none.csv")


def test_the_command_line_ends_with_2_and_one_line(log, client):
    """As a shell sees it: exit status 2, nothing but one line on standard error."""
    client.write_text('{"hand": "both"}')
    done = subprocess.run(
        [sys.executable, "manage.py", "read_log", str(log), "--client", str(client)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 2
    assert done.stdout == ""
    assert len(done.stderr.strip().splitlines()) == 1
    assert "Traceback" not in done.stderr


def test_the_robots_rows_as_a_log_name_the_launch(tmp_path):
    """Published (USBC staff, "The Technician" 2; FACTS 4C): 3.43 boards for half a degree."""
    log, client = tmp_path / "robot.csv", tmp_path / "client.json"
    log.write_text(write_csv(robot.log()))
    client.write_text(json.dumps({"hand": "right", "balls": [CLIENT["balls"][0]]}))
    movers = json.loads(run(log, "--client", client, "--json"))["movers"]
    assert movers["first"] == "launch"
    launch = movers["parts"][0]
    assert launch["what"] == "launch"
    least, most = launch["boards_interval"]
    assert least <= robot.PUBLISHED <= most
    assert "The launch moved the hit most:" in run(log, "--client", client)
