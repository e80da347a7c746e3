from django.urls import include, path
from drf_spectacular.views import SpectacularAPIView

from clients import urls as clients_urls
from clients.views import accounts
from coachsite import ball_page, client_data, clients_page, portal, views

# A client's page joins lessons and gear, a ball's joins motion and gear. So they stand in the
# shell; their names stay the clients'.
clients_patterns = [
    path("clients/", clients_page.client_list, name="list"),
    path("clients/<int:pk>/", clients_page.client_page, name="detail"),
    path("clients/<int:pk>/copy/", client_data.copy, name="copy"),
    path("clients/<int:pk>/delete/", client_data.delete, name="delete"),
    path("balls/<int:pk>/", ball_page.ball, name="ball"),
    *clients_urls.urlpatterns,
]

urlpatterns = [
    path("", views.today, name="today"),
    path("login/", accounts.log_in, name="login"),
    path("logout/", accounts.log_out, name="logout"),
    path("account/", accounts.account, name="account"),
    path("account/password/", accounts.change_password, name="change_password"),
    path("password/<str:uid>/<str:token>/", accounts.set_password, name="set_password"),
    path("portal/", portal.portal, name="portal"),
    path("portal/<int:pk>/", portal.portal_report, name="portal_report"),
    path("portal/<int:pk>/read/", portal.portal_read, name="portal_read"),
    path("portal/<int:pk>/answer/", portal.portal_answer, name="portal_answer"),
    path(
        "portal/homework/<int:pk>/done/", portal.portal_homework_done, name="portal_homework_done"
    ),
    path("healthz", views.healthz, name="healthz"),
    path("api/schema", SpectacularAPIView.as_view(), name="schema"),
    path("", include((clients_patterns, clients_urls.app_name))),
    path("", include("lanes.urls")),
]
