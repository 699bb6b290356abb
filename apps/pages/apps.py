from django.apps import AppConfig


class PagesConfig(AppConfig):
    name = "apps.pages"
    label = "pages"
