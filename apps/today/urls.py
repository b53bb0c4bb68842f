from django.urls import path

from apps.today import views

app_name = "today"
urlpatterns = [path("", views.board, name="board")]
