from django.apps import AppConfig


class LanesConfig(AppConfig):
    name = "lanes"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from lanes import tasks  # noqa: F401  registers the jobs that lanes can do
