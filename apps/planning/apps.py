from django.apps import AppConfig


class PlanningConfig(AppConfig):
    name = "apps.planning"
    label = "planning"

    def ready(self) -> None:
        from apps.planning import listeners  # noqa: F401
