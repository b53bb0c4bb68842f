from django.urls import path

from apps.sugarhouse import views

app_name = "sugarhouse"
urlpatterns = [
    path("sap/", views.sap, name="sap"),
    path("tanks/", views.tanks, name="tanks"),
    path("batches/", views.batches, name="batches"),
]
