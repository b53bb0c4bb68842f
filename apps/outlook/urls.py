from django.urls import URLPattern

app_name = "outlook"
urlpatterns: list[URLPattern] = []
