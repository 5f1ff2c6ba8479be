"""The real settings, with the tests' errands beside the others. For processes that tests start."""

from fleet.config.settings import *  # noqa: F403  # every setting is meant
from fleet.config.settings import INSTALLED_APPS

INSTALLED_APPS = [*INSTALLED_APPS[:-1], "tests.faults.shop.apps.ShopConfig", INSTALLED_APPS[-1]]
ERRAND_LOOK_SECONDS = 1
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
