"""Plotly under the site's content security policy: its own style rules come as a file."""

from __future__ import annotations

import re

from django.conf import settings
from django.urls import reverse

VENDOR = settings.BASE_DIR / "coachsite" / "static" / "vendor"
_RULE = re.compile(
    r"""\s*(?:"(?P<dq>[^"]*)"|'(?P<sq>[^']*)'|(?P<word>\w+)):(?:"(?P<dv>[^"]*)"|'(?P<sv>[^']*)'),?"""
)


def rules_in_bundle() -> list[str]:
    """Return the rules that plotly.js would write into the page, in the order it would have them.

    It inserts each at the front, so the last one of its table comes first.
    """
    bundle = (VENDOR / "plotly-basic.min.js").read_text(encoding="utf-8")
    loop = re.search(r"for\((\w+) in (\w+)\)\w+=\1\.replace\(/\^,/", bundle)
    assert loop, "plotly.js no longer writes its rules in a loop: see how it does it now"
    table = bundle.rfind(f"{loop[2]}={{", 0, loop.start()) + len(loop[2]) + 2
    text = bundle[table : loop.start()].rstrip(";").removesuffix("}")
    rules, at = [], 0
    while at < len(text):
        rule = _RULE.match(text, at)
        assert rule, text[at : at + 80]
        selector = re.sub("^,", " ,", rule["dq"] or rule["sq"] or rule["word"])
        selector = selector.replace("X", ".js-plotly-plot .plotly").replace("Y", ".plotly-notifier")
        rules.append(f"{selector}{{{rule['dv'] or rule['sv']}}}")
        at = rule.end()
    return rules[::-1]


def test_the_style_file_is_what_plotly_would_write_itself():
    css = (VENDOR / "plotly.css").read_text(encoding="utf-8")
    assert re.sub(r"/\*.*?\*/\n", "", css, flags=re.DOTALL).splitlines() == rules_in_bundle()


def test_plotly_finds_the_style_file_in_place_of_its_own(cast, draft, as_user):
    answer = as_user(cast.carl).get(reverse("lanes:report", args=[draft.pk]))
    link = re.search(r'<link id="plotly.js-style-global"[^>]*>', answer.content.decode())
    assert link
    assert 'class="no-inline-styles"' in link[0]
    assert "vendor/plotly.css" in link[0]
    policy = answer.headers["Content-Security-Policy"]
    assert "style-src 'self'" in policy
    assert "unsafe" not in policy
