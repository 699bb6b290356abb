from django.apps import AppConfig


class GroupsConfig(AppConfig):
    name = "apps.groups"
    label = "groups"

    def ready(self) -> None:
        from apps.groups import listeners  # noqa: F401  (importing it connects the listeners)
