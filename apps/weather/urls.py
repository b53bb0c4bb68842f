from django.urls import path

from apps.weather import views

app_name = "weather"
urlpatterns = [
    path("", views.outlook, name="outlook"),
    path("refresh/", views.refresh, name="refresh"),
]
