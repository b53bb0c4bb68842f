from django.contrib.auth.views import LoginView, LogoutView
from django.urls import path

app_name = "operation"
urlpatterns = [
    path(
        "sign-in/",
        LoginView.as_view(template_name="operation/sign_in.html", redirect_authenticated_user=True),
        name="sign_in",
    ),
    path("sign-out/", LogoutView.as_view(), name="sign_out"),
]
