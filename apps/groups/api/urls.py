from django.urls import path

from apps.groups.api import (
    admission_views,
    change_views,
    club_views,
    program_views,
    views,
    webhook_views,
)

urlpatterns = [
    path("groups", views.GroupsView.as_view()),
    path("groups/<id:group_id>", views.GroupView.as_view()),
    path("groups/<id:group_id>/members", views.MembersView.as_view()),
    path("groups/<id:group_id>/shares", views.SharesView.as_view()),
    path("groups/<id:group_id>/invitations", views.InvitationsView.as_view()),
    path("groups/<id:group_id>/programs", program_views.ProgramsView.as_view()),
    path("programs/<id:program_id>", program_views.ProgramView.as_view()),
    path("groups/<id:group_id>/webhooks", webhook_views.WebhooksView.as_view()),
    path("webhooks/<id:webhook_id>", webhook_views.WebhookView.as_view()),
    path("webhooks/<id:webhook_id>/rotations", webhook_views.RotationsView.as_view()),
    path("webhooks/<id:webhook_id>/trials", webhook_views.TrialsView.as_view()),
    path("webhooks/<id:webhook_id>/deliveries", webhook_views.DeliveriesView.as_view()),
    path("deliveries/<id:delivery_id>", webhook_views.DeliveryView.as_view()),
    path("deliveries/<id:delivery_id>/resends", webhook_views.ResendsView.as_view()),
    path("members/<id:membership_id>", views.MembershipView.as_view()),
    path("invitations/<id:invitation_id>", views.InvitationView.as_view()),
    path("groups/<id:group_id>/club", admission_views.GroupClubView.as_view()),
    path(
        "groups/<id:group_id>/admission-requests",
        admission_views.GroupAdmissionRequestsView.as_view(),
    ),
    path("admission-requests/<id:request_id>", admission_views.AdmissionRequestView.as_view()),
    path("changes", change_views.ChangesView.as_view()),
    path("acceptances", views.AcceptancesView.as_view()),
    path("clubs", club_views.ClubsView.as_view()),
    path("clubs/<id:club_id>", club_views.ClubView.as_view()),
    path("clubs/<id:club_id>/members", club_views.ClubMembersView.as_view()),
    path("clubs/<id:club_id>/invitations", club_views.ClubInvitationsView.as_view()),
    path("club-members/<id:membership_id>", club_views.ClubMembershipView.as_view()),
    path("clubs/<id:club_id>/groups", admission_views.ClubGroupsView.as_view()),
    path("clubs/<id:club_id>/groups/<id:group_id>", admission_views.ClubGroupView.as_view()),
    path(
        "clubs/<id:club_id>/admission-requests",
        admission_views.ClubAdmissionRequestsView.as_view(),
    ),
]
