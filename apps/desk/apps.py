from django.apps import AppConfig


class DeskConfig(AppConfig):
    name = "apps.desk"
    label = "desk"

    def ready(self) -> None:
        from apps.desk import listeners  # noqa: F401
