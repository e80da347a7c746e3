"""Addresses of lanes and shots."""

from django.urls import path

from lanes import api
from lanes.views import imports, sessions, shots

app_name = "lanes"
urlpatterns = [
    path("sessions/", sessions.session_list, name="sessions"),
    path("sessions/start/", sessions.session_start, name="session_start"),
    path("sessions/import/", imports.import_new, name="import_new"),
    path("sessions/<uuid:pk>/", sessions.session_detail, name="session"),
    path("sessions/<uuid:pk>/edit/", sessions.session_edit, name="session_edit"),
    path("sessions/<uuid:pk>/balls/", sessions.ball_add, name="session_ball_add"),
    path("sessions/<uuid:pk>/delete/", sessions.session_delete, name="session_delete"),
    path("sessions/<uuid:pk>/log/", shots.log, name="log"),
    path("sessions/<uuid:pk>/table/", shots.table, name="table"),
    path("sessions/<uuid:pk>/import/", imports.upload, name="import"),
    path("sessions/<uuid:pk>/shots.<slug:kind>", shots.export, name="export"),
    path("imports/<uuid:pk>/", imports.import_preview, name="import_preview"),
    path("api/sessions/<uuid:pk>/shots", api.session_shots, name="api_shots"),
    path("api/shots/<uuid:pk>", api.one_shot, name="api_shot"),
]
