from django.urls import path

from apps.surveys.api import views, vote_views

urlpatterns = [
    path("candidates/<id:candidate_id>/survey-votes", vote_views.SurveyVotesView.as_view()),
    path("survey-votes/<id:vote_id>", vote_views.SurveyVoteView.as_view()),
    path("survey-votes/<id:vote_id>/ballot", vote_views.SurveyBallotView.as_view()),
    path("survey-votes/<id:vote_id>/closing", vote_views.SurveyVoteClosingView.as_view()),
    path("candidates/<id:candidate_id>/surveys", views.SurveysView.as_view()),
    path("surveys/<id:survey_id>", views.SurveyView.as_view()),
    path("surveys/<id:survey_id>/reports", views.SurveyReportsView.as_view()),
    path("surveys/<id:survey_id>/comparison", views.SurveyComparisonView.as_view()),
]
