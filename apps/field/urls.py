from django.urls import URLPattern

app_name = "field"
urlpatterns: list[URLPattern] = []
