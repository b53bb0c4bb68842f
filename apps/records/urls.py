from django.urls import URLPattern

app_name = "records"
urlpatterns: list[URLPattern] = []
