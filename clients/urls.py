"""Addresses of people and things."""

app_name = "clients"
urlpatterns: list = []
