from django.urls import path

from apps.boats.api import (
    candidate_views,
    gate_views,
    import_views,
    list_views,
    opinion_views,
    yard_views,
)

urlpatterns = [
    path("clubs/<id:club_id>/yards", yard_views.ClubYardsView.as_view()),
    path("groups/<id:group_id>/yards", yard_views.GroupYardsView.as_view()),
    path("yards/<id:yard_id>", yard_views.YardView.as_view()),
    path("groups/<id:group_id>/lists", list_views.ListsView.as_view()),
    path("lists/<id:list_id>", list_views.ListView.as_view()),
    path("lists/<id:list_id>/candidates", candidate_views.CandidatesView.as_view()),
    path("lists/<id:list_id>/imports", import_views.BoatImportsView.as_view()),
    path("candidates/<id:candidate_id>", candidate_views.CandidateView.as_view()),
    path("candidates/<id:candidate_id>/stage-changes", candidate_views.StageChangesView.as_view()),
    path("candidates/<id:candidate_id>/prices", candidate_views.PricesView.as_view()),
    path("candidates/<id:candidate_id>/gates", gate_views.GatesView.as_view()),
    path("candidates/<id:candidate_id>/gates/<slug:code>", gate_views.GateView.as_view()),
    path("lists/<id:list_id>/wants", opinion_views.WantsView.as_view()),
    path("wants/<id:want_id>", opinion_views.WantView.as_view()),
    path("wants/<id:want_id>/judgements", opinion_views.JudgementsView.as_view()),
    path(
        "wants/<id:want_id>/judgements/<id:candidate_id>",
        opinion_views.JudgementView.as_view(),
    ),
    path("candidates/<id:candidate_id>/valuation", opinion_views.ValuationView.as_view()),
    path("candidates/<id:candidate_id>/valuations", opinion_views.ValuationsView.as_view()),
    path("lists/<id:list_id>/ballot", opinion_views.BallotView.as_view()),
    path("lists/<id:list_id>/ballots", opinion_views.BallotsView.as_view()),
]
