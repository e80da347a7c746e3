"""Addresses of lanes and shots."""

app_name = "lanes"
urlpatterns: list = []
