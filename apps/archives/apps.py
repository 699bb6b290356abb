from django.apps import AppConfig


class ArchivesConfig(AppConfig):
    name = "apps.archives"
    label = "archives"
