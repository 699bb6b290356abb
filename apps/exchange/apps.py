from django.apps import AppConfig


class ExchangeConfig(AppConfig):
    name = "apps.exchange"
    label = "exchange"

    def ready(self) -> None:
        from apps.exchange import checks  # noqa: F401  (registers itself)
