from django.apps import AppConfig


class SellersConfig(AppConfig):
    name = "apps.sellers"
    label = "sellers"
