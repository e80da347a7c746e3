"""What a file may be, and the one message that each broken file gets."""

from __future__ import annotations

import io
import os
import struct
import zipfile

import openpyxl
import pytest

from lanes.shotlog import MAX_BYTES, MAX_ROWS, LogFileError, check_size, parse_rows, read_table


def workbook(*rows, title="Log") -> bytes:
    book = openpyxl.Workbook()
    book.active.title = title
    for row in rows:
        book.active.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def repacked(data: bytes, change) -> bytes:
    """Return the workbook with its parts as ``change(name, content)`` gives them."""
    out = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(data)) as old,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for name in old.namelist():
            new.writestr(name, change(name, old.read(name)))
    return out.getvalue()


def refused(data: bytes, filename: str = "log.csv") -> str:
    with pytest.raises(LogFileError) as error:
        read_table(data, filename)
    message = str(error.value)
    assert "\n" not in message
    return message


GOOD = "shot,arrows,leave\n1,12.5,X\n2,13,3-6-10\n"


@pytest.mark.parametrize(
    "data",
    [
        GOOD.encode(),
        GOOD.encode("utf-8-sig"),
        GOOD.replace("\n", "\r\n").encode(),
        GOOD.replace("\n", "\r").encode(),
        GOOD.replace(",", ";").replace("12.5", "12,5").encode(),
        GOOD.replace(",", "\t").replace("12.5", "12,5").encode(),
        GOOD.replace("12.5", '"12,5"').encode(),
        b"\n\nShot, Arrows ,LEAVE\n1,12.5,x\n\n2,13,10 6 3\n",
        workbook(["shot", "arrows", "leave"], [1, 12.5, "X"], [2, 13, "3-6-10"]),
        workbook(["Shot", "Arrows", "Leave"], ["1", "12,5", "x"], [], [2.0, 13.0, "10,6,3"]),
    ],
)
def test_one_log_in_every_dress(data):
    log = parse_rows(read_table(data, "log"))
    assert [(s.shot, s.arrows, s.leave) for s in log.shots] == [(1, 12.5, "X"), (2, 13, "3-6-10")]
    assert log.problems == log.warnings == []


def test_the_content_decides_not_the_name():
    assert read_table(GOOD.encode(), "log.xlsx").columns == ("shot", "arrows", "leave")
    assert read_table(workbook(["shot"], [1]), "log.csv").columns == ("shot",)


@pytest.mark.parametrize("data", [b"", b"\xef\xbb\xbf", b" \r\n\r\n", workbook()])
def test_an_empty_file_is_told_what_a_log_begins_with(data):
    message = refused(data)
    assert message.startswith("The file is empty.")
    assert "shot,game,frame" in message


def test_a_wrong_header_is_shown_next_to_the_right_one():
    message = refused(b"date,score\n2026-01-02,201\n")
    assert 'Found "date", "score"' in message
    assert "expected shot and any of game,frame" in message
    assert '"Scores"' in refused(workbook(["date", "score"], [1, 201], title="Scores"))


def test_a_log_without_a_header_is_not_half_read():
    assert 'no column "shot"' in refused(b"1,12.5,X\n2,13,10\n")


def test_a_column_stands_once_and_has_a_name():
    assert '"arrows" more than once' in refused(b"shot,arrows,Arrows\n1,2,3\n")
    assert "no name for column 2" in refused(b"shot,,arrows\n1,2,3\n")


def test_50_mb_is_refused_by_size_alone():
    assert refused(b"shot\n" + b"1\n" * 25_000_000).startswith("The file is too large: 50.0 MB")
    with pytest.raises(LogFileError, match=r"50\.0 MB, where a shot log may have 5 MB"):
        check_size(50_000_000)
    check_size(MAX_BYTES)


@pytest.mark.parametrize("wrap", [lambda rows: "\n".join(map(str, rows)).encode(), None])
def test_rows_are_limited(wrap):
    def file(count):
        rows = ["shot", *range(1, count + 1)]
        return wrap(rows) if wrap else workbook(*([row] for row in rows))

    assert len(read_table(file(MAX_ROWS), "log").rows) == MAX_ROWS
    assert "more than 5000 rows" in refused(file(MAX_ROWS + 1))


def test_columns_are_limited():
    header = ",".join(["shot", *(f"c{n}" for n in range(100))])
    assert "more than 100 columns" in refused(header.encode())


@pytest.mark.parametrize(
    "data",
    [
        b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR" + bytes(range(256)),
        b"shot\n1\x00\n",
        b"\x01\x02\x03\x04",
        GOOD.encode("utf-16"),
    ],
)
def test_binary_data_is_no_log(data):
    assert refused(data, "clip.png") == (
        "clip.png holds binary data, not text. Expected a shot log as CSV (UTF-8) or XLSX."
    )


def test_text_in_another_encoding_is_told_where_and_what_to_do():
    message = refused("shot,note\n1,\n2,früh\n".encode("cp1252"))
    assert message == "log.csv is not UTF-8 text (line 3). Save it as CSV UTF-8 or as .xlsx."


def test_an_open_quotation_mark_swallows_nothing():
    message = refused(b'shot,note\n1,"never closed\n2,\n3,\n')
    assert "cannot be read as CSV" in message
    assert "quotation mark" in message


def test_an_old_or_locked_workbook_is_named_as_such():
    assert "old or password-protected" in refused(b"\xd0\xcf\x11\xe0" + b"\0" * 600, "log.xls")


def test_formulas_are_named_by_cell():
    data = workbook(["shot", "arrows", "head_pin"], [1, 12, 17], [2, 12, "=B3+5"])
    assert refused(data, "log.xlsx") == "Cell C3 holds a formula; paste the values instead."
    many = workbook(["shot", "arrows"], *([n, f"=A{n}"] for n in range(1, 9)))
    assert "Cells B2, B3, B4, B5, B6 and others hold formulas" in refused(many)


@pytest.mark.parametrize(
    "data",
    [
        b"PK\x03\x04 not really packed",
        workbook(["shot"], [1])[:-400],
        repacked(workbook(["shot"], [1]), lambda name, content: content[: len(content) // 2]),
        b"PK\x05\x06" + b"\0" * 18,
    ],
)
def test_a_damaged_workbook_is_told_how_to_mend_it(data):
    assert "save it as .xlsx again" in refused(data, "log.xlsx")


def test_a_packed_bomb_is_refused_before_it_unpacks():
    def swell(name, content):
        return content + b" " * 40_000_000 if "sheet1" in name else content

    data = repacked(workbook(["shot"], [1]), swell)
    assert len(data) < 100_000
    assert "unpacks to 40 MB" in refused(data, "log.xlsx")


def test_a_packed_bomb_that_lies_about_its_size_is_refused():
    data = bytearray(
        repacked(workbook(["shot"], [1]), lambda name, content: content + b" " * 3_000_000)
    )
    # Claim 100 bytes for each part, in the central directory (offset 24 of each entry, .ZIP
    # application note 4.3.12).
    at = data.find(b"PK\x01\x02")
    while at >= 0:
        data[at + 24 : at + 28] = struct.pack("<I", 100)
        at = data.find(b"PK\x01\x02", at + 4)
    assert "cannot be read as an XLSX workbook" in refused(bytes(data), "log.xlsx")


def test_a_packing_without_bound_is_refused():
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", zipfile.ZIP_BZIP2) as packed:
        packed.writestr("xl/workbook.xml", b" " * 1000)
    assert "packed in a way" in refused(data.getvalue(), "log.xlsx")


def test_a_workbook_declares_no_entities():
    def declare(name, content):
        return content.replace(b"<worksheet", b'<!DOCTYPE a [<!ENTITY b "c">]><worksheet')

    data = repacked(workbook(["shot"], [1]), declare)
    assert "document type declaration" in refused(data, "log.xlsx")


def test_a_workbook_declares_no_entities_in_utf_16_either():
    def declare(name, content):
        if not name.startswith("xl/worksheets"):
            return content
        text = content.decode().removeprefix('<?xml version="1.0"?>')
        declared = '<?xml version="1.0" encoding="UTF-16"?><!DOCTYPE a [<!ENTITY b "c">]>' + text
        return declared.encode("utf-16")

    data = repacked(workbook(["shot"], [1]), declare)
    assert "document type declaration" in refused(data, "log.xlsx")


def test_a_row_at_the_end_of_the_world_does_not_hold_the_reader_up():
    def far(name, content):
        return content.replace(b'<row r="2"', b'<row r="2000000000"')

    data = repacked(workbook(["shot"], [1]), far)
    assert "beyond 1048576" in refused(data, "log.xlsx")


def test_random_bytes_never_get_past_the_door():
    for _ in range(50):
        refused(b"PK\x03\x04" + os.urandom(200))
        refused(b"\0" + os.urandom(200))
