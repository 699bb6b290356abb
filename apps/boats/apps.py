from django.apps import AppConfig


class BoatsConfig(AppConfig):
    name = "apps.boats"
    label = "boats"

    def ready(self) -> None:
        from apps.boats import listeners  # noqa: F401  (to listen, it must be imported)
