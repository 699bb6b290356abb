from django.apps import AppConfig


class SecondOpinionsConfig(AppConfig):
    name = "apps.second_opinions"
    label = "second_opinions"
