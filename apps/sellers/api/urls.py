from django.urls import path

from apps.sellers.api import views

urlpatterns = [
    path("candidates/<id:candidate_id>/seller-questions", views.SellerQuestionsView.as_view()),
    path("candidates/<id:candidate_id>/seller-answers", views.SellerAnswersView.as_view()),
    path("seller-answers/<id:seller_answer_id>", views.SellerAnswerView.as_view()),
]
