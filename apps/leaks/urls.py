from django.urls import path

from apps.leaks import views

app_name = "leaks"
urlpatterns = [
    path("", views.open_leaks, name="open_leaks"),
    path("lines/", views.lines, name="lines"),
    path("gauges/", views.gauges, name="gauges"),
    path("gauges/<int:pk>/void/", views.void_gauge, name="void_gauge"),
]
