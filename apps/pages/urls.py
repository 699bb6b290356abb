"""Addresses are nouns and can be shared: they show the same to whoever may see it."""

from django.urls import path

from apps.pages import home
from apps.pages.boats import boats, record
from apps.pages.lists import boards, comparing, lists, opinions, pasting
from apps.pages.people import clubs, groups, joining, me, second_opinions, signing
from apps.pages.purchase import money, offers, owning, sellers, surveying
from apps.pages.visits import look, trip_forms, trips, visits

app_name = "pages"

urlpatterns = [
    path("", home.HomeView.as_view(), name="home"),
    path("sign-in", signing.SignInView.as_view(), name="sign-in"),
    path("sign-out", signing.SignOutView.as_view(), name="sign-out"),
    path("start/<str:secret>", joining.StartView.as_view(), name="start"),
    path("new-password/<str:secret>", joining.NewPasswordView.as_view(), name="new-password"),
    path("join", joining.InvitationLinkView.as_view(), name="join-by-link"),
    path("join/<str:invitation>", joining.JoinView.as_view(), name="join"),
    path("join/<str:invitation>/qr.svg", joining.InvitationCodeView.as_view(), name="join-code"),
    path("groups/new", groups.NewGroupView.as_view(), name="new-group"),
    path("groups/<id:group_id>/money", money.MoneyView.as_view(), name="money"),
    path("groups/<id:group_id>/agreement", owning.AgreementPageView.as_view(), name="agreement"),
    path("lists/new", lists.NewListView.as_view(), name="new-list"),
    path("lists/<id:list_id>/settings", lists.ListSettingsView.as_view(), name="list-settings"),
    path("me", me.MePageView.as_view(), name="me"),
    path("lists/<id:list_id>", boards.ListBoardView.as_view(), name="board"),
    path("lists/<id:list_id>/boats/new", boats.NewBoatView.as_view(), name="new-boat"),
    path("lists/<id:list_id>/paste", pasting.PasteView.as_view(), name="paste"),
    path("lists/<id:list_id>/opinions", opinions.OpinionsView.as_view(), name="opinions"),
    path("lists/<id:list_id>/compare", comparing.CompareView.as_view(), name="compare"),
    path(
        "lists/<id:list_id>/trips/new", trip_forms.NewGroupTripView.as_view(), name="group-trip-new"
    ),
    path("club/<id:club_id>", clubs.ClubPageView.as_view(), name="club"),
    path("club/<id:club_id>/trips/new", trip_forms.NewClubTripView.as_view(), name="club-trip-new"),
    path("trips/<id:trip_id>", trips.TripPageView.as_view(), name="trip"),
    path(
        "second-opinions/<id:request_id>",
        second_opinions.SecondOpinionView.as_view(),
        name="second-opinion",
    ),
    path("boats/<id:candidate_id>", boats.BoatView.as_view(), name="boat"),
    path("boats/<id:candidate_id>/record", record.RecordPageView.as_view(), name="record"),
    path("boats/<id:candidate_id>/offers", offers.OffersPageView.as_view(), name="offers"),
    path("boats/<id:candidate_id>/survey", surveying.SurveyPageView.as_view(), name="survey"),
    path("boats/<id:candidate_id>/seller", sellers.SellerView.as_view(), name="seller"),
    path("boats/<id:candidate_id>/visits/new", visits.NewVisitView.as_view(), name="visit-new"),
    path("boats/<id:candidate_id>/handover", owning.HandoverPageView.as_view(), name="handover"),
    path("boats/<id:candidate_id>/season", owning.SeasonPageView.as_view(), name="season"),
    path("visits/<id:viewing_id>", visits.VisitView.as_view(), name="visit"),
    path("visits/<id:viewing_id>/day", look.DayView.as_view(), name="visit-day"),
    path("visits/<id:viewing_id>/look", look.LookView.as_view(), name="look"),
    path("outbox", look.OutboxView.as_view(), name="outbox"),
    path("sw.js", look.WorkerView.as_view(), name="worker"),
]
