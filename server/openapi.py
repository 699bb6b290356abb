"""Settings of the OpenAPI document (drf-spectacular)."""

from uuid import UUID


def settings_for(public_url: str) -> dict[str, object]:
    """The settings of an installation at this address."""
    return SETTINGS | {
        "SERVERS": [{"url": public_url, "description": "This installation"}],
        "CONTACT": {"name": "Whoever runs this installation", "url": public_url},
        "LICENSE": {"name": "As whoever runs this installation says", "url": public_url},
    }


SETTINGS: dict[str, object] = {
    "TITLE": "Hardstand",
    "DESCRIPTION": (
        "Screening second-hand sailing boats together: a group posts what it saw, and reads what "
        "each boat would cost all-in, which to strike off and why, and which deserves a survey. "
        "A screening by non-experts is not a survey."
    ),
    "VERSION": "1",
    "OAS_VERSION": "3.1.0",
    "SERVE_INCLUDE_SCHEMA": False,
    "SCHEMA_PATH_PREFIX": "/api/v1",
    "COMPONENT_SPLIT_REQUEST": True,
    "PATH_CONVERTER_OVERRIDES": {"id": UUID},
    "SWAGGER_UI_DIST": "SIDECAR",
    "SWAGGER_UI_FAVICON_HREF": "SIDECAR",
    "REDOC_DIST": "SIDECAR",
    "WEBHOOKS": ["apps.groups.api.webhook_messages.message"],
    "POSTPROCESSING_HOOKS": [
        "drf_spectacular.hooks.postprocess_schema_enums",
        "apps.http.schema.document_problems",
        "apps.http.schema.leave_null_out_of_queries",
        "apps.http.schema.allow_overlapping_forms",
        "server.docs.operations.describe_operations",
    ],
    "ENUM_NAME_OVERRIDES": {
        "ClientKind": "apps.accounts.access.ClientKind",
        "Scope": "apps.accounts.scopes.CHOICES",
        "GroupRole": "apps.groups.models.Membership.Role",
        "ProgramRole": "apps.groups.programs.ROLES",
        "AgesWith": "apps.catalogue.vocabulary.AGES_WITH",
        "VisitKind": "apps.appraisal.api.looks_serializers.VISIT_KINDS",
        "QuestionKind": "apps.appraisal.api.looks_serializers.QUESTION_KINDS",
        "WhyNotPossible": "apps.catalogue.vocabulary.REASONS",
        "CatalogueKind": "apps.catalogue.own.models.CatalogueChange.Kind",
        "CatalogueChangeState": "apps.catalogue.own.models.CatalogueChange.State",
        "CatalogueEntryState": "apps.catalogue.api.own_serializers.STATES",
        "ClubRole": "apps.groups.models.ClubMembership.Role",
        "Stage": "apps.boats.vocabulary.Stage",
        "OfferState": "apps.purchase.offers.models.Offer.State",
        "OfferSide": "apps.purchase.offers.models.Offer.Side",
        "OfferConditionCode": "apps.purchase.offers.models.OfferCondition",
        "Source": "apps.boats.vocabulary.Source",
        "WantKind": "apps.boats.models.Want.Kind",
        "WantSubject": "apps.boats.models.Want.Subject",
        "WantTest": "apps.boats.models.Want.Test",
        "ViewingState": "apps.viewings.models.Viewing.State",
        "SubmissionState": "apps.viewings.models.Submission.State",
        "FollowUpState": "apps.viewings.models.FollowUp.State",
        "FindingKind": "apps.viewings.models.Finding.Kind",
        "MediaState": "apps.viewings.models.Photo.State",
        "MediaFault": "apps.viewings.models.Photo.Fault",
        "SellerPhotoSource": "apps.viewings.media.models.SellerPhoto.Source",
        "SellerSaidBy": "apps.sellers.models.SellerAnswer.SaidBy",
        "SoundPurpose": "apps.viewings.models.Sound.Purpose",
        "ExpensePurpose": "apps.expenses.models.LedgerEntry.Purpose",
        "SurveyKind": "apps.surveys.models.Survey.Kind",
        "SurveyState": "apps.surveys.models.Survey.State",
        "RemedyUrgency": ["now", "later"],
        "SurveyUrgency": "apps.surveys.models.SurveyFinding.Urgency",
        "SurveyVoteOutcome": "apps.surveys.models.SurveyVote.Outcome",
        "SurveyVerdict": "apps.surveys.comparing.VERDICTS",
        "SurveyRuling": "apps.surveys.comparing.RULINGS",
        "HandoverItemKind": "apps.ownership.models.HandoverItem.Kind",
        "WorkChoice": "apps.ownership.models.WorkDecision.Choice",
        "DoneBy": "apps.purchase.models.Bill.DoneBy",
        "Capacity": "apps.viewings.models.Submission.Capacity",
        "Profession": "apps.viewings.models.PROFESSIONS",
        "SecondOpinionRequestState": "apps.second_opinions.models.SecondOpinionRequest.State",
        "SecondOpinionStepKind": "apps.second_opinions.models.Step.Kind",
        "AssignmentEnding": "apps.second_opinions.models.Assignment.Ending",
        "TripState": "apps.planning.models.Trip.State",
        "PlanOutcome": "apps.planning.models.Trip.Outcome",
        "StopState": "apps.planning.models.StopState",
        "LookBasis": "apps.planning.models.Basis",
        "ExportState": "apps.archives.models.Export.State",
        "ImportState": "apps.archives.models.Import.State",
        "DeliveryState": "apps.events.models.Delivery.State",
        "WebhookStopped": "apps.events.models.Webhook.Stopped",
        "NotificationKind": "apps.notifications.types.NotificationKind",
        "NotificationTypeCode": "apps.notifications.types.CHOICES",
        "NotificationRhythm": "apps.notifications.models.Rhythm",
        "WebhookKind": "apps.groups.api.webhook_serializers.KIND_CHOICES",
    },
}
