from django.apps import AppConfig
from django.db.models.signals import post_delete


class ClientsConfig(AppConfig):
    name = "clients"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from clients import photos  # models are there by now
        from clients.models import TicketPhoto

        post_delete.connect(photos.forget_file, sender=TicketPhoto, dispatch_uid="photo files")
