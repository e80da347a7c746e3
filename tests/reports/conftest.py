"""Reports of the cast: a draft on a reading made by hand."""

from __future__ import annotations

import hashlib
from typing import Any

import pytest

from clients import jobs
from lanes import reports
from lanes.models import Reading, Report, Session
from tests.conftest import make_session
from tests.reports.sample_reading import sample_reading


def make_reading(session: Session, **changes: Any) -> Reading:
    data = {**sample_reading(), **changes}
    digest = hashlib.sha256(repr(data).encode()).hexdigest()
    return Reading.objects.create(session=session, version="1", input_hash=digest, data=data)


@pytest.fixture
def no_broker(monkeypatch) -> None:
    monkeypatch.setattr(jobs, "nudge", lambda job: None)


@pytest.fixture
def draft(cast) -> Report:
    """Sam's draft; Carl has edited nothing yet."""
    return reports.draft_from(make_reading(cast.session))


@pytest.fixture
def sent(cast, draft) -> Report:
    return reports.send(draft, by=cast.carl)


@pytest.fixture
def wendys(cast) -> Report:
    """The minor Wendy's report, sent; Gina is her guardian."""
    session = make_session(cast.block, cast.wendy_client, cast.carl)
    return reports.send(reports.draft_from(make_reading(session)), by=cast.carl)
