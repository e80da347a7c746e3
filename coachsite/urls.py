from django.urls import include, path
from drf_spectacular.views import SpectacularAPIView

from clients import urls as clients_urls
from clients.views import accounts
from coachsite import clients_page, views

# A client's page joins lessons and gear, so it stands in the shell; its name stays the clients'.
clients_patterns = [
    path("clients/", clients_page.client_list, name="list"),
    path("clients/<int:pk>/", clients_page.client_page, name="detail"),
    *clients_urls.urlpatterns,
]

urlpatterns = [
    path("", views.today, name="today"),
    path("login/", accounts.log_in, name="login"),
    path("logout/", accounts.log_out, name="logout"),
    path("account/", accounts.account, name="account"),
    path("account/password/", accounts.change_password, name="change_password"),
    path("password/<str:uid>/<str:token>/", accounts.set_password, name="set_password"),
    path("healthz", views.healthz, name="healthz"),
    path("api/schema", SpectacularAPIView.as_view(), name="schema"),
    path("", include((clients_patterns, clients_urls.app_name))),
    path("", include("lanes.urls")),
]
