from django.apps import AppConfig


class RecordsConfig(AppConfig):
    name = "apps.records"
    label = "records"
