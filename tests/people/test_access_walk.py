"""Every address, with every role of the cast, a stranger and nobody. The table: urls_table.py."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from django.db import connection, transaction
from django.test import Client as Browser
from django.test.utils import CaptureQueriesContext
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from tests.people.urls_table import PEOPLE, ROWS, Row

WRITES = ("INSERT", "UPDATE", "DELETE", "REPLACE", "SAVEPOINT", "BEGIN IMMEDIATE")


def known_patterns(resolver: URLResolver | None = None, spaces: str = "") -> Iterator[str]:
    """Yield the name of every address of the site, or its route where it has none."""
    for pattern in (resolver or get_resolver()).url_patterns:
        if isinstance(pattern, URLResolver):
            inner = f"{spaces}{pattern.namespace}:" if pattern.namespace else spaces
            yield from known_patterns(pattern, inner)
        else:
            assert isinstance(pattern, URLPattern)
            yield f"{spaces}{pattern.name or pattern.pattern}"


def test_the_table_knows_every_address() -> None:
    """A new address without a line in the table is an address nobody has thought through."""
    known, listed = set(known_patterns()), {row.name for row in ROWS}
    assert not known - listed, f"add a row to tests/people/urls_table.py for {known - listed}"
    assert not listed - known, f"the table has rows for addresses that are gone: {listed - known}"


@pytest.mark.parametrize("row", ROWS, ids=str)
def test_walk(row: Row, world, as_user) -> None:
    """Everybody gets what the table says; GET writes nothing; headers and CSRF hold."""
    address = reverse(row.name, kwargs=row.arguments(world)) + row.query.format(**vars(world))
    seen = {}
    for who in (*PEOPLE, "anonymous"):
        browser = Browser() if who == "anonymous" else as_user(getattr(world, who))
        with transaction.atomic(), CaptureQueriesContext(connection) as queries:
            response = _ask(browser, row, address, world)
            transaction.set_rollback(True)
        seen[who] = response.status_code
        if response.streaming:
            b"".join(response)  # read to its end, which spares the database connection
        _check_headers(response)
        if row.method == "get":
            written = [q["sql"] for q in queries if q["sql"].startswith(WRITES)]
            assert not written, f"GET {address} by {who} wrote: {written}"
        if who == "anonymous" and row.expected[who] == 302 and row.name != "logout":
            assert response["Location"].startswith("/login/?next="), response["Location"]
    assert seen == row.expected, address


@pytest.mark.parametrize("row", ROWS, ids=str)
def test_post_without_the_token_is_refused(row: Row, world) -> None:
    """No address takes a POST without CSRF token, from whoever may do the most there."""
    allowed = [who for who, code in row.expected.items() if code < 400 and who != "anonymous"]
    browser = Browser(enforce_csrf_checks=True)
    if allowed:
        user = getattr(world, allowed[0])
        browser.force_login(user, backend="clients.auth.EmailOrNameBackend")
    address = reverse(row.name, kwargs=row.arguments(world))
    response = _ask(browser, row, address, world, otherwise="post")
    # 405: the address takes no POST at all; the API says so before it looks at the token.
    assert response.status_code in (403, 405), response.status_code


def _ask(browser: Browser, row: Row, address: str, world, otherwise: str = "get"):
    """Send the row's request; one that is a GET may be sent by another method instead."""
    method = otherwise if row.method == "get" else row.method
    how = {"content_type": "application/json"} if row.as_json else {}
    return getattr(browser, method)(address, row.data(world), **how)


def _check_headers(response) -> None:
    policy = response["Content-Security-Policy"]
    assert "default-src 'self'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert response["X-Frame-Options"] == "DENY"
    assert response["X-Content-Type-Options"] == "nosniff"
    html = response.get("Content-Type", "").startswith("text/html") and not response.streaming
    if html and response.content:
        page = response.content.decode()
        for forbidden in (" style=", "<style", " onclick=", " onload=", "javascript:", "{#", "{%"):
            assert forbidden not in page, f"{forbidden!r} in the page"
