"""The shell: settings, addresses, the worker, and the pages that join lessons and gear."""

from coachsite.celery import app as celery_app

__all__ = ["celery_app"]
