from django.apps import AppConfig


class OwnershipConfig(AppConfig):
    name = "apps.ownership"
    label = "ownership"
