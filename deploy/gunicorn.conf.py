"""How the web server runs, here and in the container."""

import os

bind = os.environ.get("BIND", "127.0.0.1:8000")
workers = int(os.environ.get("WEB_WORKERS", "2"))
threads = 4
timeout = 60
graceful_timeout = 10
# Nothing here is steered from outside while it runs.
control_socket_disable = True
# No access log: the address of an invitation is its key and has no place in a log file.
accesslog = None
errorlog = "-"


def post_worker_init(worker):
    """Load what answers need before the first is asked for: pages, and what is compiled."""
    from django.urls import get_resolver

    from lanes.warm import warm

    get_resolver().url_patterns  # noqa: B018 - reading it imports every page
    warm()
