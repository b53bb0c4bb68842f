from django.urls import path

from apps.field import views

app_name = "field"
urlpatterns = [path("check/", views.check, name="check")]
