"""What the end of a browser test waits for: every connection that the live server still serves."""

from __future__ import annotations

import socket
import time
from collections.abc import Callable

from .conftest import answering


def _soon(true: Callable[[], bool]) -> bool:
    deadline = time.monotonic() + 10
    while not true() and time.monotonic() < deadline:
        time.sleep(0.01)
    return true()


def test_a_request_under_way_is_seen_until_its_browser_hangs_up(live_server):
    assert not answering()
    thread = live_server.thread
    with socket.create_connection((thread.host, thread.port)) as browser:
        browser.sendall(b"GET /login/ HTTP/1.1\r\n")  # and no end of it yet
        assert _soon(lambda: len(answering()) == 1)
    assert _soon(lambda: not answering())
