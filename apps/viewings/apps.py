from django.apps import AppConfig


class ViewingsConfig(AppConfig):
    name = "apps.viewings"
    label = "viewings"

    def ready(self) -> None:
        from apps.viewings.media import listeners

        listeners.connect()
