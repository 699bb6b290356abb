from django.apps import AppConfig


class PurchaseConfig(AppConfig):
    name = "apps.purchase"
    label = "purchase"
