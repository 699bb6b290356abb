from django.urls import path

from apps.appraisal.api import checklist_views, looks_views, views

urlpatterns = [
    # Most requests are for these.
    path("lists/<id:list_id>/board", views.BoardView.as_view()),
    path("lists/<id:list_id>/next-looks", looks_views.NextLooksView.as_view()),
    path("candidates/<id:candidate_id>/checklist", checklist_views.ChecklistView.as_view()),
    path("lists/<id:list_id>/board.csv", views.BoardCsvView.as_view()),
    path("lists/<id:list_id>/board.svg", views.BoardSvgView.as_view()),
    path("lists/<id:list_id>/board.png", views.BoardPngView.as_view()),
    path("lists/<id:list_id>/board.html", views.BoardPageView.as_view()),
    path("lists/<id:list_id>/order", views.OrderView.as_view()),
    path("lists/<id:list_id>/raters", looks_views.RatersView.as_view()),
    path("lists/<id:list_id>/what-if", looks_views.WhatIfView.as_view()),
    path("candidates/<id:candidate_id>/seller-effect", looks_views.SellerEffectView.as_view()),
    path("candidates/<id:candidate_id>/rollup", views.RollupView.as_view()),
    path("candidates/<id:candidate_id>/consensus", views.ConsensusView.as_view()),
    path("candidates/<id:candidate_id>/reasons", views.ReasonsView.as_view()),
    path("candidates/<id:candidate_id>/explanation", looks_views.ExplanationView.as_view()),
    path("candidates/<id:candidate_id>/offer-advice", looks_views.OfferAdviceView.as_view()),
    path("candidates/<id:candidate_id>/explanation.svg", looks_views.ExplanationSvgView.as_view()),
]
