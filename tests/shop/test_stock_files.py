"""Stock lists as files: read, refused, looked at, taken once, and written back."""

from __future__ import annotations

import datetime as dt
import io
from decimal import Decimal

import openpyxl
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from clients import stock_files
from clients.models import StockBall, StockDraft
from clients.stock_files import StockFileError

GOOD = (
    b"code,name,cover,grit,polished,mass_lb,rg_in,differential_in,intermediate_in,price,quantity\n"
    b"FB15,Fog Bell,pearl,3000,yes,15,2.50,0.045,0.014,189.90,2\n"
    b",Salt Lamp,solid,,,14,2.48,,,,\n"
)


def draft_of(cast, data: bytes, filename: str = "list.csv") -> StockDraft:
    return stock_files.keep_upload(filename=filename, data=data, by=cast.otto)


def look(cast, data: bytes) -> stock_files.Preview:
    return stock_files.preview(draft_of(cast, data))


def take(cast, data: bytes) -> tuple[int, int]:
    taken = stock_files.take(draft_of(cast, data), by=cast.otto)
    return taken.new, taken.changed


def workbook(*rows) -> bytes:
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def listed() -> list[dict]:
    drop = ("id", "created_at", "updated_at")
    rows = StockBall.objects.order_by("name").values()
    return [{k: v for k, v in row.items() if k not in drop} for row in rows]


def test_a_good_list_is_taken_as_it_stands(cast):
    assert take(cast, GOOD) == (2, 0)
    bell, lamp = StockBall.objects.order_by("name")
    assert (bell.code, bell.grit, bell.polished, bell.quantity) == ("FB15", 3000, True, 2)
    assert (bell.rg_in, bell.intermediate_in, bell.price) == (2.5, 0.014, Decimal("189.90"))
    assert (lamp.code, lamp.grit, lamp.polished, lamp.quantity) == (None, None, False, 1)
    assert lamp.price is None


@pytest.mark.parametrize("mark", [";", "\t"])
def test_decimal_commas_and_other_delimiters(cast, mark):
    rows = [["name", "cover", "rg in", "Price"], ["Fog Bell", "Pearl", "2,51", "189,90"]]
    text = "\n".join(mark.join(row) for row in rows)
    assert take(cast, text.encode("utf-8-sig")) == (1, 0)
    ball = StockBall.objects.get()
    assert (ball.rg_in, ball.price, ball.cover) == (2.51, Decimal("189.90"), "pearl")


def test_a_workbook_is_read_like_a_csv(cast):
    data = workbook(
        ["name", "cover", "rg_in", "price", "quantity", "polished"],
        ["Fog Bell", "pearl", 2.51, 189.9, 3, True],
    )
    assert take(cast, data) == (1, 0)
    ball = StockBall.objects.get()
    assert (ball.rg_in, ball.price, ball.quantity) == (2.51, Decimal("189.90"), 3)
    assert ball.polished


def test_repeating_an_import_doubles_nothing(cast):
    assert take(cast, GOOD) == (2, 0)
    before = listed()
    assert take(cast, GOOD) == (0, 0)
    assert listed() == before


def test_a_second_yes_to_the_same_draft_does_nothing(cast):
    draft = draft_of(cast, GOOD)
    assert stock_files.take(draft, by=cast.otto).new == 2
    assert stock_files.take(draft, by=cast.otto).new == 0
    assert StockBall.objects.count() == 2


def test_an_article_number_finds_its_ball_whatever_else_changed(cast):
    take(cast, GOOD)
    found = look(cast, b"code,name,cover,price,quantity\nFB15,Fog Bell II,pearl,150,7\n")
    [changed] = found.changed
    assert {(d.label, d.before, d.after) for d in changed.differences} == {
        ("name", "Fog Bell", "Fog Bell II"),
        ("price", "189.90", "150.00"),
        ("how many", "2", "7"),
    }
    take(cast, b"code,name,cover,price,quantity\nFB15,Fog Bell II,pearl,150,7\n")
    ball = StockBall.objects.get(code="FB15")
    # What the file lacks, and what it leaves empty, stays.
    assert (ball.name, ball.quantity, ball.rg_in, ball.grit) == ("Fog Bell II", 7, 2.5, 3000)


def test_the_same_name_in_another_weight_is_another_ball(cast):
    take(cast, b"name,cover,mass_lb\nFog Bell,pearl,15\n")
    assert take(cast, b"name,cover,mass_lb\nfog  bell,pearl,15\nFog Bell,pearl,14\n") == (1, 1)
    assert sorted(StockBall.objects.values_list("mass_lb", flat=True)) == [14.0, 15.0]


def test_two_article_numbers_are_two_articles_however_alike(cast):
    text = b"code,name,cover\nA,Fog Bell,pearl\nB,Fog Bell,pearl\n"
    assert take(cast, text) == (2, 0)
    assert take(cast, text) == (0, 0)


def test_bad_cells_are_named_by_row_and_column_and_the_good_rows_come(cast):
    text = (
        b"name,cover,rg_in,price,quantity,polished,grit\n"
        b"Fog Bell,pearl,2.5,100,1,no,2000\n"
        b"Bad RG,pearl,25,100,1,no,2000\n"
        b",marble,x,1.999,1.5,perhaps,1e300\n"
        b"Huge,solid,2.5," + b"9" * 60 + b"," + b"9" * 5000 + b",no,\n"
    )
    found = look(cast, text)
    assert [(p.row, p.column) for p in found.problems] == [
        (3, "rg_in"),
        (4, "name"), (4, "cover"), (4, "grit"), (4, "polished"), (4, "rg_in"), (4, "price"),
        (4, "quantity"),
        (5, "price"), (5, "quantity"),
    ]  # fmt: skip
    assert found.problems[0].message == "expected a number from 2.4 to 2.9"
    assert (found.good_rows, found.bad_rows) == (1, 3)
    assert take(cast, text) == (1, 0)


def test_the_ranges_that_the_page_tells_are_those_of_the_model():
    ranged = [c for c in stock_files.COLUMNS if " from " in c.expected]
    assert len(ranged) == 8
    for column in ranged:
        low, high = (v.limit_value for v in column.field.validators[:2])
        assert f"from {low:g} to {high:g}" in column.expected


def test_a_ball_that_stands_twice_is_refused_the_second_time(cast):
    found = look(cast, b"code,name,cover\nA,Fog Bell,pearl\nA,Salt Lamp,solid\n")
    assert [(p.row, p.column) for p in found.problems] == [(3, "code")]
    found = look(cast, b"name,cover\nFog Bell,pearl\nfog bell,pearl\n")
    assert "row 2 already" in found.problems[0].message


def test_unknown_columns_are_reported_kept_and_come_back(cast):
    text = b"name,cover,Shelf\nFog Bell,pearl,=B3\n"
    assert look(cast, text).unknown_columns == ["Shelf"]
    take(cast, text)
    assert StockBall.objects.get().extra == {"Shelf": "=B3"}
    out = stock_files.as_csv(StockBall.objects.all())
    assert "'=B3" in out  # no spreadsheet runs it
    assert take(cast, out.encode()) == (0, 0)


def test_what_is_written_out_reads_back_the_same(cast):
    take(cast, GOOD)
    StockBall.objects.create(
        name="@ Quote, \"and\" comma", cover="urethane", note="-5", pin_out_in=2.75, rg_in=2.5123,
        differential_in=0.0305, price=Decimal("0.10"), quantity=0, code="=1+1",
    )  # fmt: skip
    before = listed()
    text = stock_files.as_csv(StockBall.objects.all()).encode("utf-8-sig")
    assert take(cast, text) == (0, 0)
    StockBall.objects.all().delete()
    assert take(cast, text) == (3, 0)
    assert listed() == before


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "is empty"),
        (b"  \n\n", "is empty"),
        (b"name,cover\n", "no ball below it"),
        (b"name,rg_in\nFog Bell,2.5\n", 'no column "cover"'),
        (b"name,cover,name\nA,solid,B\n", "more than once"),
        (b"name,cover\nF\xe4hre,solid\n", "not UTF-8 text (line 2)"),
        ("name,cover\nFog,solid\n".encode("utf-16"), "binary data"),
        (b"\x89PNG\r\n\x1a\n\0\0", "binary data"),
        (b"PK\x03\x04 no workbook", "cannot be read as an XLSX workbook"),
        (b"\xd0\xcf\x11\xe0 old", "old or password-protected"),
        (b'name,cover\n"Fog,solid\n', "quotation mark"),
        (workbook(["name", "cover", "price"], ["Fog", "solid", "=1+1"]), "Cell C2 holds a formula"),
        (b"name,cover\n" + b"Fog,solid\n" * 10_000, "more than 5000 rows"),
        (b"x" * 5_000_001, "too large"),
    ],
)
def test_hostile_files_are_refused_in_a_sentence(cast, data, words):
    with pytest.raises(StockFileError) as error:
        draft_of(cast, data)
    assert words in str(error.value)
    assert not StockDraft.objects.exists()


def test_the_largest_list_is_looked_at_and_taken(cast):
    rows = b"".join(b"C%d,Ball %d,solid,15,1\n" % (n, n) for n in range(5000))
    assert take(cast, b"code,name,cover,mass_lb,quantity\n" + rows) == (5000, 0)
    assert take(cast, b"code,name,cover,mass_lb,quantity\n" + rows) == (0, 0)


def test_a_date_in_a_number_is_said(cast):
    data = workbook(["name", "cover", "price"], ["Fog Bell", "pearl", dt.datetime(2026, 1, 5)])
    assert "date or time" in look(cast, data).problems[0].message


# Pages.


def upload(browser, data: bytes):
    file = SimpleUploadedFile("list.csv", data)
    return browser.post(reverse("clients:stock_import"), {"file": file})


def test_by_page_from_the_file_to_the_list(cast, as_user):
    browser = as_user(cast.otto)
    help_page = browser.get(reverse("clients:stock_import")).content.decode()
    assert all(column.name in help_page for column in stock_files.COLUMNS)
    to = upload(browser, GOOD + b"Bad,Bad,marble,,,,,,,,\n").url
    html = browser.get(to).content.decode()
    assert "Import the 2 good rows" in html
    assert "Expected one of solid, hybrid, pearl, urethane, plastic" in html
    assert not StockBall.objects.exists()
    browser.post(to, {"choice": "take"})
    again = browser.post(to, {"choice": "take"}, follow=True)
    assert "imported already" in again.content.decode()
    assert StockBall.objects.count() == 2


def test_by_page_not_at_all(cast, as_user):
    browser = as_user(cast.otto)
    to = upload(browser, GOOD).url
    browser.post(to, {"choice": "discard"})
    assert not StockBall.objects.exists()
    assert not StockDraft.objects.exists()


def test_by_page_a_bad_file_is_said_at_its_field(cast, as_user):
    html = upload(as_user(cast.otto), b"shot,arrows\n1,2\n").content.decode()
    assert "no column &quot;name&quot;" in html


def test_the_download_reads_back(cast, as_user):
    take(cast, GOOD)
    answer = as_user(cast.carl).get(reverse("clients:stock_csv"))
    assert answer["Content-Type"].startswith("text/csv")
    assert take(cast, answer.content) == (0, 0)
