"""Every address of Layline. The apps' own lists hang here, each under its name."""

from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import LogoutView
from django.urls import include, path, re_path

from fleet.api.endpoint import NoSuchAddress

from . import health
from .login import LogIn

urlpatterns = [
    path("login/", LogIn.as_view(), name="login"),
    path("logout/", LogoutView.as_view(), name="logout"),
    path("health/live", login_not_required(health.live), name="health-live"),
    path("health/ready", login_not_required(health.ready), name="health-ready"),
    path("api/v1/", include("fleet.api_urls")),
    path("api/v1/", include("assemblies.api_urls")),
    path("api/v1/", include("scheduling.api_urls")),
    re_path("^api/v1/", NoSuchAddress.as_view()),
    path("", include("fleet.urls")),
    path("", include("assemblies.urls")),
    path("", include("scheduling.urls")),
]
