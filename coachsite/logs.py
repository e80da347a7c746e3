"""What may stand in a log."""

from __future__ import annotations

import logging
import re

# An invitation's or a new password's address is its key (clients.urls, coachsite.urls).
_KEY = re.compile(r"/(join|password)/[^\s'\"]+")


class WithoutKeys(logging.Filter):
    """Cut the key out of addresses: whoever reads a log must not be able to open an account."""

    def filter(self, record: logging.LogRecord) -> bool:
        message = record.getMessage()
        if _KEY.search(message):
            record.msg, record.args = _KEY.sub(r"/\1/…", message), ()
        return True
