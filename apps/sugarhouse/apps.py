from django.apps import AppConfig


class SugarhouseConfig(AppConfig):
    name = "apps.sugarhouse"
