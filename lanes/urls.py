"""Addresses of lanes and shots."""

from django.urls import path

from lanes import api
from lanes.views import (
    arsenal,
    centres,
    imports,
    layout_sheet,
    numbers,
    patterns,
    readings,
    reports,
    sessions,
    shots,
    surface_plan,
    try_shot,
)

app_name = "lanes"
urlpatterns = [
    path("numbers/", numbers.numbers, name="numbers"),
    path("centres/", centres.centres, name="centres"),
    path("centres/new/", centres.centre_new, name="centre_new"),
    path("centres/<int:pk>/", centres.centre, name="centre"),
    path("centres/<int:pk>/edit/", centres.centre_edit, name="centre_edit"),
    path("centres/<int:pk>/lanes/", centres.centre_lanes, name="centre_lanes"),
    path("patterns/", patterns.patterns, name="patterns"),
    path("patterns/import/", patterns.pattern_import, name="pattern_import"),
    path("patterns/<int:pk>/", patterns.pattern, name="pattern"),
    path("patterns/<int:pk>/sheet.csv", patterns.pattern_csv, name="pattern_csv"),
    path("layouts/<int:pk>/", layout_sheet.layout, name="layout"),
    path("surfaces/", surface_plan.plan, name="surface_plan"),
    path("balls/<int:pk>/surface-plan/", surface_plan.ball_plan, name="ball_plan"),
    path(
        "balls/<int:pk>/surface-plan/ticket/",
        surface_plan.ticket_from_plan,
        name="plan_ticket",
    ),
    path("try/", try_shot.try_shot, name="try_shot"),
    path("clients/<int:pk>/arsenal/", arsenal.arsenal_map, name="arsenal"),
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
    path("sessions/<uuid:pk>/read/", readings.session_read, name="session_read"),
    path("jobs/<uuid:pk>/", readings.job, name="job"),
    path("reports/<int:pk>/", reports.report, name="report"),
    path("reports/<int:pk>/edit/", reports.report_edit, name="report_edit"),
    path("reports/<int:pk>/send/", reports.report_send, name="report_send"),
    path("reports/<int:pk>/revise/", reports.report_revise, name="report_revise"),
    path("reports/<int:pk>/seen/", reports.report_seen, name="report_seen"),
    path("api/sessions/<uuid:pk>/shots", api.session_shots, name="api_shots"),
    path("api/shots/<uuid:pk>", api.one_shot, name="api_shot"),
]
