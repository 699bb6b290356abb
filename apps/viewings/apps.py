from django.apps import AppConfig


class ViewingsConfig(AppConfig):
    name = "apps.viewings"
    label = "viewings"
