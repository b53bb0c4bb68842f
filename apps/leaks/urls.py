from django.urls import path

from apps.leaks import views

app_name = "leaks"
urlpatterns = [
    path("", views.open_leaks, name="open_leaks"),
    path("lines/", views.lines, name="lines"),
    path("gauges/", views.gauges, name="gauges"),
    path("gauges/<int:pk>/void/", views.void_gauge, name="void_gauge"),
    path("checks/", views.checks, name="checks"),
    path("obstructions/", views.obstructions, name="obstructions"),
    path("obstructions/<int:pk>/clear/", views.clear_obstruction, name="clear_obstruction"),
    path("obstructions/<int:pk>/void/", views.void_obstruction, name="void_obstruction"),
    path("clearings/<int:pk>/void/", views.void_clearing, name="void_clearing"),
]
