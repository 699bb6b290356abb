from django.apps import AppConfig


class MemoryConfig(AppConfig):
    name = "apps.memory"
    label = "memory"
