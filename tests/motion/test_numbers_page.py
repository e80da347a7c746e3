"""The numbers page: its table is that of the constants, and the site shows it as it stands."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse

from lanes.motion.constants import CALIBRATION
from lanes.numbers import to_html
from tests.benchmarks.calibration_table import PAGE, in_page, table


def test_the_calibration_table_is_that_of_the_constants():
    """To put it right: python -m tests.benchmarks.calibration_table --write"""
    assert in_page(PAGE.read_text(encoding="utf-8")) == table()


def test_the_page_shows_every_constant(as_user, cast):
    page = as_user(cast.sam).get(reverse("lanes:numbers")).content.decode()
    calibration = page.split('id="calibration"')[1].split("</table>")[0]
    rows = re.findall(r"<td>(\w+)</td>\n<td class=\"num\">([^<]+)</td>", calibration)
    shown = {name: float(value) for name, value in rows if name in CALIBRATION}
    for name, parameter in CALIBRATION.items():
        assert shown[name] == pytest.approx(parameter.value, rel=1e-5)
    assert "TODO" not in page


def test_raw_html_is_shown_and_not_taken():
    html = to_html('A <script>alert("x")</script> and <b onclick="y">b</b>.')
    assert "<script" not in html
    assert "<b" not in html
    assert "&lt;script&gt;" in html


def test_a_table_scrolls_in_its_own_box_and_says_what_it_is():
    html = to_html("## Some & speeds\n\n| a | b |\n|---|--:|\n| x | 1 |\n")
    assert '<h2 id="some-speeds">Some &amp; speeds</h2>' in html
    assert 'role="region" aria-label="Some &amp; speeds"' in html
    assert '<th scope="col" class="num">b</th>' in html
    assert '<td class="num">1</td>' in html
    assert "style=" not in html
