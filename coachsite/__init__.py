"""The shell: settings, addresses, the worker, and the pages that join lessons and gear."""

import os

# Readings multiply many small matrices; there a second thread of the linear algebra only spins
# (seven times slower on a busy two-core machine). Has to be set before numpy is imported.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from coachsite.celery import app as celery_app

__all__ = ["celery_app"]
