"""The JSON side of the shot log, for the phone and the table: same functions, same words.

A shot is an object with the shot-log columns (``shot`` is its number), its key ``id`` and its
``version``. What cannot be is answered 400 with a list of messages per column; a change to a shot
that has moved on 409 with the row as it is; somebody else's 404.
"""

from __future__ import annotations

import uuid
from typing import Any

from django.core.exceptions import ValidationError
from django.shortcuts import get_object_or_404
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, OpenApiResponse, extend_schema
from rest_framework import exceptions, serializers
from rest_framework.decorators import api_view
from rest_framework.request import Request
from rest_framework.response import Response

from lanes import live, shots
from lanes.models import Session, Shot
from lanes.shotlog import COLUMNS, Column
from lanes.shotlog.columns import Kind


def _schema_field(column: Column) -> serializers.Field:
    """Return how a column looks in the schema; ``lanes.shots`` does the checking."""
    about: dict[str, Any] = {"required": False, "help_text": f"Expected {column.expected}."}
    match column.kind:
        case Kind.WHOLE:
            return serializers.IntegerField(allow_null=True, **about)
        case Kind.BOARD | Kind.NUMBER:
            return serializers.FloatField(allow_null=True, **about)
        case Kind.YES_NO:
            return serializers.BooleanField(**about)
        case _:
            return serializers.CharField(allow_blank=True, **about)


_columns = {column.name: _schema_field(column) for column in COLUMNS}
NewShot = type(
    "NewShot", (serializers.Serializer,), {"id": serializers.UUIDField(required=False), **_columns}
)
ShotChange = type(
    "ShotChange", (serializers.Serializer,), {"version": serializers.IntegerField(), **_columns}
)
ShotRow = type(
    "ShotRow",
    (serializers.Serializer,),
    {
        "id": serializers.UUIDField(),
        "version": serializers.IntegerField(),
        "deleted": serializers.BooleanField(),
        **_columns,
    },
)
ShotList = type("ShotList", (serializers.Serializer,), {"shots": ShotRow(many=True)})
ShotConflict = type(
    "ShotConflict",
    (serializers.Serializer,),
    {"detail": serializers.CharField(), "current": ShotRow()},
)
_REFUSED = OpenApiResponse(description="A list of messages per column that cannot be.")
_NOT_YOURS = OpenApiResponse(description="No such thing, or not yours.")


@extend_schema(
    methods=["GET"],
    operation_id="shots_list",
    summary="A session's shots in the order thrown",
    responses={200: ShotList, 404: _NOT_YOURS},
)
@extend_schema(
    methods=["POST"],
    operation_id="shots_log",
    summary="Log a shot; the same id again logs nothing",
    request=NewShot,
    responses={201: ShotRow, 200: ShotRow, 400: _REFUSED, 404: _NOT_YOURS},
)
@api_view(["GET", "POST"])
def session_shots(request: Request, pk: uuid.UUID) -> Response:
    """List a session's shots, or log one."""
    session = get_object_or_404(Session.objects.visible_to(request.user), pk=pk)
    if request.method == "GET":
        return Response({"shots": [shots.as_row(shot) for shot in shots.live_shots(session)]})
    values = _object(request)
    key = _key(values.pop("id", None))
    try:
        shot, new = shots.log_shot(session=session, by=request.user, values=values, key=key)
    except ValidationError as error:
        raise exceptions.ValidationError(error.message_dict) from None
    return Response(shots.as_row(shot), status=201 if new else 200)


@extend_schema(
    operation_id="live_read",
    summary="What the shots so far say: verdict, changes and options; provisional",
    responses={200: OpenApiTypes.OBJECT, 404: _NOT_YOURS},
)
@api_view(["GET"])
def session_live(request: Request, pk: uuid.UUID) -> Response:
    """Read a session as far as it has been thrown."""
    mine = Session.objects.visible_to(request.user)
    session = get_object_or_404(mine.select_related("block__pattern", "block__centre"), pk=pk)
    return Response(live.read(session), headers={"Cache-Control": "no-store"})


@extend_schema(
    methods=["PATCH"],
    operation_id="shots_change",
    summary="Change some columns of a shot",
    request=ShotChange,
    responses={200: ShotRow, 400: _REFUSED, 404: _NOT_YOURS, 409: ShotConflict},
)
@extend_schema(
    methods=["DELETE"],
    operation_id="shots_delete",
    summary="Delete a shot",
    parameters=[OpenApiParameter("version", int, required=True)],
    responses={204: None, 400: _REFUSED, 404: _NOT_YOURS, 409: ShotConflict},
)
@api_view(["PATCH", "DELETE"])
def one_shot(request: Request, pk: uuid.UUID) -> Response:
    """Change or delete a shot that still has the version that the asker saw."""
    mine = Shot.objects.editable_by(request.user).filter(session__deleted_at=None)
    shot = get_object_or_404(mine.select_related("session", "ball"), pk=pk)
    try:
        if request.method == "DELETE":
            version = _version(request.query_params.get("version"))
            shots.delete_shot(shot=shot, by=request.user, version=version)
            return Response(status=204)
        values = _object(request)
        version = _version(values.pop("version", None))
        changed = shots.change_shot(shot=shot, by=request.user, version=version, values=values)
    except ValidationError as error:
        raise exceptions.ValidationError(error.message_dict) from None
    except shots.StaleShot as stale:
        answer = {"detail": str(stale), "current": shots.as_row(stale.shot)}
        return Response(answer, status=409)
    return Response(shots.as_row(changed))


def _object(request: Request) -> dict[str, Any]:
    try:
        found = request.data
    except RecursionError:  # brackets within brackets by the thousand
        found = None
    # A name that cannot be printed could not be answered either (half a character, for one).
    if not isinstance(found, dict) or not all(name.isprintable() for name in found):
        raise exceptions.ValidationError({"detail": ["expected one JSON object"]})
    return dict(found)


def _key(text: Any) -> uuid.UUID | None:
    if text is None:
        return None
    try:
        return uuid.UUID(str(text))
    except ValueError:
        raise exceptions.ValidationError({"id": ["expected a UUID"]}) from None


def _version(text: Any) -> int:
    try:
        return int(text)
    except (TypeError, ValueError, OverflowError):  # 1e999 is a number in JSON, and infinite
        raise exceptions.ValidationError(
            {"version": ["expected the version of the shot that you saw"]}
        ) from None
