from django.urls import URLPattern

app_name = "today"
urlpatterns: list[URLPattern] = []
