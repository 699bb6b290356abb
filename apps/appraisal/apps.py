from django.apps import AppConfig


class AppraisalConfig(AppConfig):
    name = "apps.appraisal"
    label = "appraisal"

    def ready(self) -> None:
        from apps.appraisal.looks_selectors import check_worths_seen
        from apps.appraisal.messages import (
            on_catalogue_changed,
            on_club_changed,
            on_list_inputs_changed,
        )
        from apps.appraisal.pools import on_pooling_ended
        from apps.appraisal.usual_figures import on_catalogue_currency_wanted, usual_figures
        from apps.boats.signals import (
            brief_wanted,
            catalogue_currency_wanted,
            list_inputs_changed,
        )
        from apps.catalogue.signals import catalogue_changed
        from apps.groups.signals import club_joined, club_left, pooling_ended
        from apps.viewings.signals import worths_wanted

        list_inputs_changed.connect(on_list_inputs_changed, dispatch_uid="appraisal")
        catalogue_changed.connect(on_catalogue_changed, dispatch_uid="appraisal")
        brief_wanted.connect(usual_figures, dispatch_uid="appraisal")
        catalogue_currency_wanted.connect(on_catalogue_currency_wanted, dispatch_uid="appraisal")
        club_joined.connect(on_club_changed, dispatch_uid="appraisal")
        club_left.connect(on_club_changed, dispatch_uid="appraisal")
        pooling_ended.connect(on_pooling_ended, dispatch_uid="appraisal")
        worths_wanted.connect(check_worths_seen, dispatch_uid="appraisal")
