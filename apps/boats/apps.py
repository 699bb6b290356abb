from django.apps import AppConfig


class BoatsConfig(AppConfig):
    name = "apps.boats"
    label = "boats"
