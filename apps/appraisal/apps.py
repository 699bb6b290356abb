from django.apps import AppConfig


class AppraisalConfig(AppConfig):
    name = "apps.appraisal"
    label = "appraisal"

    def ready(self) -> None:
        from apps.appraisal.messages import on_list_inputs_changed
        from apps.boats.signals import list_inputs_changed

        list_inputs_changed.connect(on_list_inputs_changed, dispatch_uid="appraisal")
