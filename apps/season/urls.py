from django.urls import path

from apps.season import views

app_name = "season"
urlpatterns = [path("", views.review, name="review")]
