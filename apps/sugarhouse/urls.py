from django.urls import URLPattern

app_name = "sugarhouse"
urlpatterns: list[URLPattern] = []
