from django.urls import path

from apps.demo import views

app_name = "demo"
urlpatterns = [path("clock/", views.clock, name="clock")]
