from django.urls import path

from apps.purchase.api import views

urlpatterns = [
    path("candidates/<uuid:candidate_id>/quotes", views.QuotesView.as_view()),
    path("quotes/<uuid:quote_id>", views.QuoteView.as_view()),
]
