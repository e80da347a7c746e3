"""A real Chromium against a live server, for every browser test.

Fixtures
    phone, desk   a page of 360x740 with touch, a page of 1280x900; each its own browser context, so
                  a coach at the desk and a student on the phone can meet in one test. Addresses are
                  relative: `phone.goto("/login/")`.
    log_in        `log_in(page, user)`: logged in without the form.
    axe           `axe(page)`: fails on any WCAG 2.2 A or AA violation that axe-core can see.
    shoot         `shoot(page, "people")`: a full-page picture into $SCREENSHOTS, if that is set.

A test ends when the server has answered all that its pages asked for. Else the database would be
emptied under a request that still writes, and PostgreSQL would end one of the two (a deadlock).

A page fails its test on script errors, console errors and anything the content security policy
blocked. The answer of a page that a test opens on purpose (404, 410) is no error.

Without a Chromium these tests are left out, and said so; with CI=true that is a failure.
"""

from __future__ import annotations

import os
import shutil
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.db import connections
from django.test import Client as Browser
from playwright.sync_api import Browser as Chromium
from playwright.sync_api import ConsoleMessage, Page, Response, sync_playwright

from clients.models import User

# Playwright's sync interface keeps an event loop in this thread; Django would refuse to query.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
ARGUMENTS = [
    "--no-sandbox",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--disable-gpu",
    "--disable-dev-shm-usage",
]
WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    here = Path(__file__).parent
    for item in items:
        if here in item.path.parents:
            item.add_marker(pytest.mark.browser)


def chromium_path() -> str | None:
    """Return the path of a Chromium, or None; CHROMIUM in the environment comes first."""
    for name in (os.environ.get("CHROMIUM"), *NAMES):
        path = shutil.which(name) if name else None
        if path:
            return path
    return None


@pytest.fixture(scope="session")
def chromium(django_db_setup) -> Iterator[Chromium]:
    path = chromium_path()
    if path is None:
        reason = "no Chromium here: install Debian's chromium, or name one in CHROMIUM"
        if os.environ.get("CI", "").lower() == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=ARGUMENTS)
        yield browser
        browser.close()
        # Under Playwright's event loop Django keeps connections of their own. Nobody else would
        # close them, and PostgreSQL drops no database that one is open to.
        connections.close_all()


def answering() -> list[threading.Thread]:
    """Return the threads of connections that the live server still serves, one for each.

    One ends when its browser has hung up and what was sent by then is answered, so this also sees
    a request that has come in and is not begun. The server keeps no list of them; they go by name.
    """
    return [t for t in threading.enumerate() if "process_request_thread" in t.name]


@pytest.fixture(autouse=True)
def _answered(transactional_db) -> Iterator[None]:
    """Let the database be emptied only after every page is closed and every request is answered."""
    yield
    deadline = time.monotonic() + 30
    while answering():
        assert time.monotonic() < deadline, "a page was left open, or a request was never answered"
        time.sleep(0.01)


def _page(chromium: Chromium, base_url: str, **viewport: object) -> Iterator[Page]:
    """Give a page in its own context, and fail where it complained."""
    context = chromium.new_context(base_url=base_url, **viewport)
    context.set_default_timeout(10_000)
    page = context.new_page()
    complaints: list[tuple[str, str]] = []
    refused: set[str] = set()

    def on_console(message: ConsoleMessage) -> None:
        if message.type == "error":
            complaints.append((message.text, message.location.get("url", "")))

    def on_response(response: Response) -> None:
        if response.status >= 400 and response.request.is_navigation_request():
            refused.add(response.url)

    page.on("console", on_console)
    page.on("pageerror", lambda error: complaints.append((str(error), page.url)))
    page.on("response", on_response)
    yield page
    context.close()
    left = [
        f"{text} ({url})"
        for text, url in complaints
        if not (text.startswith("Failed to load resource") and url in refused)
    ]
    assert not left, "the page complained:\n" + "\n".join(left)


@pytest.fixture
def phone(chromium: Chromium, live_server) -> Iterator[Page]:
    yield from _page(
        chromium,
        live_server.url,
        viewport={"width": 360, "height": 740},
        device_scale_factor=2,
        has_touch=True,
        is_mobile=True,
    )


@pytest.fixture
def desk(chromium: Chromium, live_server) -> Iterator[Page]:
    yield from _page(chromium, live_server.url, viewport={"width": 1280, "height": 900})


@pytest.fixture
def log_in(live_server) -> Callable[[Page, User], None]:
    def log_in(page: Page, user: User) -> None:
        browser = Browser()
        browser.force_login(user, backend="clients.auth.EmailOrNameBackend")
        cookie = browser.cookies["sessionid"].value
        page.context.add_cookies([{"name": "sessionid", "value": cookie, "url": live_server.url}])

    return log_in


@pytest.fixture(scope="session")
def axe() -> Callable[[Page], None]:
    def check(page: Page) -> None:
        options = {
            "runOnly": {"type": "tag", "values": WCAG},
            "resultTypes": ["violations"],
            # Else axe loads the style sheets once more, by addresses that the policy blocks.
            "preload": False,
        }
        page.wait_for_load_state()
        results = Axe().run(page, options=options)
        assert results.violations_count == 0, f"{page.url}\n{results.generate_report()}"
        # Not window.innerWidth: a phone widens it to whatever sticks out.
        width = page.evaluate("document.documentElement.scrollWidth") - page.viewport_size["width"]
        assert width <= 0, f"{page.url} is {width} px wider than the window"

    return check


@pytest.fixture(scope="session")
def shoot() -> Callable[[Page, str], None]:
    folder = os.environ.get("SCREENSHOTS")

    def shoot(page: Page, name: str) -> None:
        if folder:
            width = page.viewport_size["width"]
            page.screenshot(path=Path(folder) / f"{name}-{width}.png", full_page=True)

    return shoot
