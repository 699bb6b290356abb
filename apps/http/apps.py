from django.apps import AppConfig
from django.urls import register_converter


class HttpConfig(AppConfig):
    name = "apps.http"
    label = "http"

    def ready(self) -> None:
        from apps.http.paths import IdConverter

        register_converter(IdConverter, "id")
