from django.apps import AppConfig


class GroupsConfig(AppConfig):
    name = "apps.groups"
    label = "groups"
