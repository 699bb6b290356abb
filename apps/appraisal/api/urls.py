from django.urls import path

from apps.appraisal.api import views

urlpatterns = [
    path("lists/<uuid:list_id>/board", views.BoardView.as_view()),
    path("lists/<uuid:list_id>/board.csv", views.BoardCsvView.as_view()),
    path("lists/<uuid:list_id>/board.svg", views.BoardSvgView.as_view()),
    path("lists/<uuid:list_id>/board.png", views.BoardPngView.as_view()),
    path("lists/<uuid:list_id>/board.html", views.BoardPageView.as_view()),
    path("lists/<uuid:list_id>/order", views.OrderView.as_view()),
    path("candidates/<uuid:candidate_id>/rollup", views.RollupView.as_view()),
    path("candidates/<uuid:candidate_id>/consensus", views.ConsensusView.as_view()),
    path("candidates/<uuid:candidate_id>/reasons", views.ReasonsView.as_view()),
]
