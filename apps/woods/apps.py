from django.apps import AppConfig


class WoodsConfig(AppConfig):
    name = "apps.woods"
