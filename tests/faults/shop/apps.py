"""The app of the tests' own errands."""

from django.apps import AppConfig


class ShopConfig(AppConfig):
    name = "tests.faults.shop"
    label = "shop"
