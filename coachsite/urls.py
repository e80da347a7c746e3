from django.urls import path
from drf_spectacular.views import SpectacularAPIView

from coachsite import views

urlpatterns = [
    path("", views.today, name="today"),
    path("healthz", views.healthz, name="healthz"),
    path("api/schema", SpectacularAPIView.as_view(), name="schema"),
]
