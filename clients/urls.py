"""Addresses of people and things."""

from django.urls import path

from clients.views import (
    balls,
    clients,
    consents,
    fits,
    join,
    layouts,
    letters,
    life,
    people,
    rules,
    tickets,
)

app_name = "clients"

# The list of clients, a client's page and a ball's join gear with lessons or motion: coachsite.urls
# adds them here.
urlpatterns = [
    path("clients/new/", clients.client_new, name="new"),
    path("clients/<int:pk>/edit/", clients.client_edit, name="edit"),
    path("clients/<int:pk>/facts.json", clients.client_facts, name="facts"),
    path("clients/<int:pk>/balls/new/", balls.ball_new, name="ball_new"),
    path("balls/<int:pk>/edit/", balls.ball_edit, name="ball_edit"),
    path("balls/<int:pk>/surface/", balls.surface_add, name="surface_add"),
    path("balls/<int:pk>/retire/", balls.ball_retire, name="ball_retire"),
    path("balls/<int:pk>/unretire/", balls.ball_unretire, name="ball_unretire"),
    path("clients/<int:pk>/fit/", fits.fit, name="fit"),
    path("clients/<int:pk>/fit/new/", fits.fit_new, name="fit_new"),
    path("clients/<int:pk>/axis-point/", fits.axis_point_new, name="axis_point_new"),
    path("fits/<int:pk>/", fits.fit_sheet, name="fit_sheet"),
    path("balls/<int:pk>/life/", life.event_add, name="event_add"),
    path("balls/<int:pk>/life/<int:event>/remove/", life.event_remove, name="event_remove"),
    path("balls/<int:pk>/readings/", life.reading_add, name="reading_add"),
    path(
        "balls/<int:pk>/readings/<int:reading>/remove/", life.reading_remove, name="reading_remove"
    ),
    path("balls/<int:pk>/pass-on/", life.pass_on, name="pass_on"),
    path("balls/<int:pk>/layouts/new/", layouts.layout_new, name="layout_new"),
    path("layouts/<int:pk>/edit/", layouts.layout_edit, name="layout_edit"),
    path("layouts/<int:pk>/remove/", layouts.layout_remove, name="layout_remove"),
    path("layouts/<int:pk>/drilled/", layouts.layout_drilled, name="layout_drilled"),
    path("gear/", balls.gear, name="gear"),
    path("gear/rules/", rules.rules, name="rules"),
    path("gear/walk-in/", clients.walkin_new, name="walkin_new"),
    path("shop/", tickets.board, name="shop"),
    path("shop/take-in/", tickets.take_in, name="take_in"),
    path("shop/take-in/walk-in/", tickets.ticket_walk_in, name="ticket_walk_in"),
    path("shop/take-in/<int:pk>/", tickets.ticket_new, name="ticket_new"),
    path("shop/<uuid:pk>/", tickets.ticket, name="ticket"),
    path("shop/<uuid:pk>/change/", tickets.ticket_change, name="ticket_change"),
    path("shop/<uuid:pk>/on/", tickets.ticket_move, name="ticket_move"),
    path("shop/<uuid:pk>/back/", tickets.ticket_step_back, name="ticket_step_back"),
    path("shop/<uuid:pk>/drop/", tickets.ticket_drop, name="ticket_drop"),
    path("shop/<uuid:pk>/label/", tickets.label, name="ticket_label"),
    path("shop/<uuid:pk>/photos/", tickets.photo_add, name="ticket_photo_add"),
    path("shop/<uuid:pk>/photos/<int:photo>/", tickets.photo, name="ticket_photo"),
    path(
        "shop/<uuid:pk>/photos/<int:photo>/remove/",
        tickets.photo_remove,
        name="ticket_photo_remove",
    ),
    path("people/", people.people_list, name="people"),
    path("people/letters/", letters.letters, name="letters"),
    path("people/<int:pk>/", people.person, name="person"),
    path("people/<int:pk>/roles/", people.person_roles, name="person_roles"),
    path("people/<int:pk>/close/", people.person_close, name="person_close"),
    path("people/<int:pk>/open/", people.person_open, name="person_open"),
    path("people/<int:pk>/password/", people.person_password, name="person_password"),
    path("people/invite/", people.invite, name="invite"),
    path("people/invite/<int:pk>/", people.invitation, name="invitation"),
    path("people/invite/<int:pk>/renew/", people.invitation_renew, name="invitation_renew"),
    path("people/invite/<int:pk>/revoke/", people.invitation_revoke, name="invitation_revoke"),
    path("join/<str:token>/", join.join, name="join"),
    path("wards/", consents.wards, name="wards"),
    path("wards/<int:pk>/", consents.consents_of_ward, name="consents"),
]
