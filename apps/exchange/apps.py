from django.apps import AppConfig
from django.urls import register_converter


class ExchangeConfig(AppConfig):
    name = "apps.exchange"
    label = "exchange"

    def ready(self) -> None:
        from apps.exchange import checks  # noqa: F401  (registers itself)
        from apps.exchange.http.paths import IdConverter

        register_converter(IdConverter, "id")
