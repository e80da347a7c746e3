"""The numbers page: what the motion core is worth, from the text that stands beside its code."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe
from django.utils.text import slugify
from markdown_it import MarkdownIt
from markdown_it.token import Token

from lanes import motion

SOURCE = Path(motion.__file__).with_name("NUMBERS.md")


@cache
def numbers_page() -> SafeString:
    """Return the page's text as HTML; it only changes with the code."""
    return to_html(SOURCE.read_text(encoding="utf-8"))


def to_html(text: str) -> SafeString:
    """Return Markdown as HTML of this site: headings with names, tables in boxes that scroll.

    Raw HTML in the text is shown, not taken: nothing but what Markdown itself makes gets through.
    """
    markdown = MarkdownIt("commonmark", {"html": False}).enable("table")
    tokens: list[Token] = []
    heading = ""
    tables_here = 0
    parsed = markdown.parse(text)
    for token, following in zip(parsed, [*parsed[1:], None], strict=True):
        if token.type == "heading_open" and following is not None:
            heading, tables_here = following.content, 0
            token.attrSet("id", slugify(heading))
        elif token.type == "table_open":
            tables_here += 1
            label = heading if tables_here == 1 else f"{heading}, table {tables_here}"
            tokens.append(_html(f'<div {_REGION} aria-label="{escape(label)}">'))
        elif token.type == "th_open":
            token.attrSet("scope", "col")
        if token.type in ("th_open", "td_open") and "style" in token.attrs:
            # The policy on content allows no inline style; a class of ours says the same.
            token.attrs = {key: value for key, value in token.attrs.items() if key != "style"}
            token.attrSet("class", "num")
        tokens.append(token)
        if token.type == "table_close":
            tokens.append(_html("</div>"))
    html = markdown.renderer.render(tokens, markdown.options, {})
    return mark_safe(html)  # noqa: S308 - made from our own text, with raw HTML off


_REGION = 'class="table-box" tabindex="0" role="region"'


def _html(content: str) -> Token:
    return Token("html_block", "", 0, content=content + "\n")
