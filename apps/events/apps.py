from django.apps import AppConfig
from django.urls import register_converter


class EventsConfig(AppConfig):
    name = "apps.events"
    label = "events"

    def ready(self) -> None:
        from apps.events import checks  # noqa: F401  (registers itself)
        from apps.http.paths import IdConverter

        register_converter(IdConverter, "id")
