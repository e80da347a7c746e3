from django.apps import AppConfig


class CoachsiteConfig(AppConfig):
    name = "coachsite"
