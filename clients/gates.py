"""Pages that hang on no single row: whose they are at all. To everyone else they do not exist."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps

from django.http import Http404, HttpRequest, HttpResponse

from clients.models import User

View = Callable[..., HttpResponse]


def only_for(is_theirs: Callable[[User], bool]) -> Callable[[View], View]:
    """Return a decorator that answers 404 to users whom `is_theirs` does not take."""

    def gate(view: View) -> View:
        @wraps(view)
        def guarded(request: HttpRequest, *args: object, **kwargs: object) -> HttpResponse:
            if not is_theirs(request.user):
                raise Http404
            return view(request, *args, **kwargs)

        return guarded

    return gate


coaches_only = only_for(lambda user: user.is_coach)
staff_only = only_for(lambda user: user.is_staff_member)
gear_keepers_only = only_for(lambda user: user.is_owner or user.is_operator)
