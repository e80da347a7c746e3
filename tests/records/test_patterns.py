"""Pattern sheets: in from a file, pasted or mapped; kept once; drawn; out again."""

from __future__ import annotations

import io

import openpyxl
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from lanes import patterns
from lanes.models import Pattern
from lanes.motion.oil import HOUSE, parse_pattern

SHEET = """layer,direction,from_ft,to_ft,first_board,last_board,ml
1,forward,0,30,2,38,6.5
2,reverse,8,38,9,31,3.25
"""
OTHERS = """Pass;Way;Start;End;Left;Right;Oil
1;F;0;10;2L;2R;6500
2;R;2,5;12;9L;9R;3250
"""
# The same oil under other columns: metres, microlitres, the right board from the right edge.
MAPPING = {
    "layer": "0",
    "direction": "1",
    "from_ft": "2",
    "to_ft": "3",
    "first_board": "4",
    "last_board": "5",
    "ml": "6",
    "last_from": "right",
    "distance": "m",
    "volume": "ul",
}


@pytest.fixture
def post(cast, as_user):
    """Return a function that posts to the import as Carl."""
    browser = as_user(cast.carl)
    return lambda **data: browser.post(reverse("lanes:pattern_import"), data)


def workbook(*rows: tuple) -> bytes:
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def upload(data: bytes, name: str = "Long one.csv") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, data)


# The import.


def test_a_pasted_sheet_is_previewed_and_nothing_is_kept_yet(post):
    response = post(text=SHEET, name="Long one", step="read")
    html = response.content.decode()
    for text in ("38 ft", "9.75 mL", "forward 6.5 mL, reverse 3.25 mL", "Keep this pattern"):
        assert text in html
    assert 'role="img"' in html
    assert "style=" not in html
    assert not Pattern.objects.exists()


def test_the_yes_keeps_it_with_volume_and_length(post, cast):
    response = post(text=SHEET, name="Long one", note="Tuesdays", step="save")
    pattern = Pattern.objects.get()
    assert response["Location"] == reverse("lanes:pattern", args=[pattern.pk])
    assert (pattern.volume_ml, pattern.length_ft, pattern.note) == (9.75, 38, "Tuesdays")
    assert pattern.imported_by == cast.carl


def test_the_same_layers_are_kept_once_whatever_their_name(post):
    post(text=SHEET, name="Long one", step="save")
    again = post(text=SHEET.replace(",", ";"), name="Another name", step="save")
    pattern = Pattern.objects.get()
    assert again["Location"] == reverse("lanes:pattern", args=[pattern.pk])
    assert "already here" in post(text=SHEET, name="Third", step="read").content.decode()


def test_other_layers_need_another_name(post):
    post(text=SHEET, name="Long one", step="save")
    response = post(text=SHEET.replace("6.5", "7"), name="Long one", step="save")
    assert "another sheet called Long one" in response.content.decode()
    assert Pattern.objects.count() == 1


def test_a_file_gives_its_name_to_a_sheet_without_one(post):
    response = post(file=upload(SHEET.encode()), step="read")
    assert response.context["form"]["name"].value() == "Long one"


def test_a_workbook_is_read_like_text(post):
    rows = [line.split(",") for line in SHEET.split()]
    typed = [tuple(rows[0]), *[(r[0], r[1], *map(float, r[2:])) for r in rows[1:]]]
    response = post(file=upload(workbook(*typed), "Long one.xlsx"), step="read")
    assert response.context["sheet"].layers == parse_pattern(SHEET).layers


def test_each_bad_cell_is_named_by_the_row_that_the_person_sees(post):
    bad = SHEET.replace("2,38,6.5", "2,55,much").replace("reverse", "sideways")
    response = post(text="\n" + bad, name="Long one", step="save")
    problems = {(problem.row, problem.field) for problem in response.context["problems"]}
    assert problems == {(3, "last_board"), (3, "ml"), (4, "direction")}
    html = response.content.decode()
    assert "sideways" in html  # nothing lost: the sheet stands there to be mended
    assert not Pattern.objects.exists()


@pytest.mark.parametrize(
    ("data", "name", "message"),
    [
        (b"", "s.csv", "is empty"),
        (b" \n", "s.csv", "is empty"),
        (b"\xff\xfe\x00\x01", "s.csv", "is no text"),
        (b"PK\x03\x04 broken", "s.xlsx", "cannot be read as a workbook"),
        (b"x" * 1_000_001, "s.csv", "may have 1 MB"),
        (b"x," * 50, "s.csv", "columns; expected up to"),
        (b"x\n" * 1500, "s.csv", "1500 rows"),
    ],
)
def test_a_file_that_is_no_sheet_gets_one_clear_message(post, data, name, message):
    response = post(file=upload(data, name), step="read")
    [[error]] = response.context["form"].errors.values()
    assert message in error
    assert not Pattern.objects.exists()


def test_formulas_are_refused_by_their_cells(post):
    data = workbook(("direction", "from_ft"), ("forward", "=1+1"))
    response = post(file=upload(data, "s.xlsx"), step="read")
    assert "holds formulas (B2)" in response.context["form"].errors["file"][0]


def test_neither_file_nor_text_is_said(post):
    assert "Choose a file, or paste" in post(step="read", name="x").content.decode()
    assert "Give the pattern a name" in post(step="read", text=SHEET).content.decode()


# Other sheets' columns.


def test_other_columns_are_asked_about(post):
    response = post(text=OTHERS, name="Metric one", step="read")
    html = response.content.decode()
    assert "Which column is which?" in html
    assert "Oil (6500, 3250)" in html


def test_other_columns_are_mapped_with_their_units_and_edges(post):
    post(text=OTHERS, name="Metric one", step="map", **MAPPING)
    response = post(text=OTHERS, name="Metric one", step="map", **MAPPING)
    first, second = response.context["sheet"].layers
    assert (first.direction, first.first_board, first.last_board, first.ml) == (
        "forward",
        2,
        38,
        6.5,
    )
    assert (second.direction, second.first_board, second.last_board) == ("reverse", 9, 31)
    # 12 m is 39.3701 ft (1 ft is 0.3048 m exactly).
    assert second.to_ft == pytest.approx(39.3701, abs=1e-4)
    assert second.from_ft == pytest.approx(8.2021, abs=1e-4)


def test_a_mapping_with_a_column_missing_is_asked_again(post):
    response = post(text=OTHERS, name="x", step="map", **(MAPPING | {"ml": ""}))
    assert "ml" in response.context["form"].errors


def test_a_sheet_without_a_direction_is_all_one_way(post):
    response = post(text=OTHERS, name="x", step="map", **(MAPPING | {"direction": "=reverse"}))
    assert {layer.direction for layer in response.context["sheet"].layers} == {"reverse"}


def test_bad_cells_of_a_mapped_sheet_keep_their_rows(post):
    bad = OTHERS.replace("6500", "lots")
    response = post(text="\n\n" + bad, name="x", step="map", **MAPPING)
    assert [(p.row, p.field) for p in response.context["problems"]] == [(4, "ml")]


# A sheet on file.


def test_the_csv_reads_back_as_the_same_sheet(cast, as_user):
    pattern, _ = patterns.import_pattern(HOUSE, by=cast.carl)
    response = as_user(cast.otto).get(reverse("lanes:pattern_csv", args=[pattern.pk]))
    assert parse_pattern(response.content.decode()).layers == HOUSE.layers
    header = response.content.decode().splitlines()[0]
    assert header == "layer,direction,from_ft,to_ft,first_board,last_board,ml"


def test_the_page_shows_film_layers_and_the_rule_of_31(cast, as_user):
    # Rule of 31: 39 ft exits at board 8 (coaching pages, common practice; shared facts, section 3).
    sheet = parse_pattern(SHEET.replace("8,38", "8,39"), "Long one")
    pattern, _ = patterns.import_pattern(sheet, by=cast.carl)
    html = as_user(cast.otto).get(reverse("lanes:pattern", args=[pattern.pk])).content.decode()
    for text in ("<dd>8<small>", "39 ft", "9.75 mL", "common practice", 'class="oil oil-3"'):
        assert text in html


def test_a_sheet_without_any_oil_is_still_a_page(cast, as_user):
    dry = parse_pattern(SHEET.replace("6.5", "0").replace("3.25", "0"), "Dry")
    pattern, _ = patterns.import_pattern(dry, by=cast.carl)
    html = as_user(cast.otto).get(reverse("lanes:pattern", args=[pattern.pk])).content.decode()
    assert "No oil at all." in html


def test_the_list_asks_the_same_number_of_queries_for_more_sheets(
    cast, as_user, django_assert_max_num_queries
):
    for ml in range(1, 21):
        sheet = parse_pattern(SHEET.replace("6.5", str(ml)), f"Sheet {ml}")
        patterns.import_pattern(sheet, by=cast.carl)
    browser = as_user(cast.otto)
    with django_assert_max_num_queries(5):
        html = browser.get(reverse("lanes:patterns")).content.decode()
    assert "38 ft, 23.2 mL" in html  # 20 and 3.25 mL


def test_an_empty_list_says_how_to_begin(cast, as_user):
    html = as_user(cast.carl).get(reverse("lanes:patterns")).content.decode()
    assert "No pattern sheets yet" in html


def test_the_operator_imports_nothing(cast, as_user):
    url = reverse("lanes:pattern_import")
    data = {"text": SHEET, "name": "x", "step": "save"}
    assert as_user(cast.otto).post(url, data).status_code == 404
    assert not Pattern.objects.exists()
