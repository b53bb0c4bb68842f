from django.contrib.auth.views import LoginView, LogoutView
from django.urls import path

from apps.operation import numbers_views, views

app_name = "operation"
urlpatterns = [
    path(
        "sign-in/",
        LoginView.as_view(template_name="operation/sign_in.html", redirect_authenticated_user=True),
        name="sign_in",
    ),
    path("sign-out/", LogoutView.as_view(), name="sign_out"),
    path("settings/", views.settings_page, name="settings"),
    path("settings/operation/", views.describe, name="describe"),
    path("settings/<str:key>/", views.change_setting, name="change_setting"),
    path("settings/<str:key>/default/", views.restore_default, name="restore_default"),
    path("numbers/", numbers_views.numbers_page, name="numbers"),
    path("crew/", views.crew, name="crew"),
    path("crew/<int:pk>/", views.change_crew, name="change_crew"),
]
