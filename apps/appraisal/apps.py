from django.apps import AppConfig


class AppraisalConfig(AppConfig):
    name = "apps.appraisal"
    label = "appraisal"
