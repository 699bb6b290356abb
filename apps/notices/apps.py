from django.apps import AppConfig


class NoticesConfig(AppConfig):
    name = "apps.notices"
    label = "notices"

    def ready(self) -> None:
        from apps.notices import checks  # noqa: F401  (registers itself)
