from django.apps import AppConfig


class MemoryConfig(AppConfig):
    name = "apps.memory"
    label = "memory"

    def ready(self) -> None:
        from apps.groups.signals import sharing_ended
        from apps.memory.services import on_sharing_ended

        sharing_ended.connect(on_sharing_ended, dispatch_uid="memory")
