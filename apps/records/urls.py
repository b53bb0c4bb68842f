from django.urls import path

from apps.records import views

app_name = "records"
urlpatterns = [
    path("lines/import/", views.import_lines, name="import_lines"),
    path("lines/export/", views.export_lines, name="export_lines"),
]
