"""Coming in: names and passwords, with tries counted and demo people kept to this machine."""

from typing import Any

from django.contrib.auth.backends import ModelBackend
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import HttpRequest
from django.utils import timezone

from fleet.actions.logins import count_failure, forget_failures, wait_sentence
from fleet.models import Person

from .surroundings import LOOPBACK_HOSTS

_PASSED_ON = ("HTTP_FORWARDED", "HTTP_X_FORWARDED_FOR", "HTTP_X_FORWARDED_HOST", "HTTP_X_REAL_IP")
_WRONG = "That name and password don't go together: look at both and try again."
_DEMO_AWAY = "A demo log-in works only on the machine that Layline runs on."


class GuardedBackend(ModelBackend):
    """Django's own check of the password, behind the counter of failed tries."""

    def authenticate(
        self,
        request: HttpRequest | None,
        username: str | None = None,
        password: str | None = None,
        **kwargs: Any,
    ) -> Any:
        if request is None or username is None:
            return None
        at, address = timezone.now(), request.META.get("REMOTE_ADDR", "")
        _stop_if(request, wait_sentence(name=username, address=address, at=at))
        person = super().authenticate(request, username=username, password=password, **kwargs)
        if person is None:
            count_failure(name=username, address=address, at=at)
            return None
        if isinstance(person, Person) and person.demo and not came_from_here(request):
            _stop_if(request, _DEMO_AWAY)
        forget_failures(name=username, address=address)
        return person


class LoginForm(AuthenticationForm):
    """Django's form, saying in our words why nobody was let in."""

    def get_invalid_login_error(self) -> ValidationError:
        return ValidationError(getattr(self.request, "login_refusal", "") or _WRONG)


class LogIn(LoginView):
    """The log-in page; a person who is in already is sent on."""

    authentication_form = LoginForm
    template_name = "fleet/login.html"
    redirect_authenticated_user = True


def came_from_here(request: HttpRequest) -> bool:
    """Whether a request was made on this machine, and passed on by nobody."""
    host = request.get_host().rsplit(":", 1)[0] if "]" not in request.get_host() else "[::1]"
    if any(name in request.META for name in _PASSED_ON):
        return False
    return request.META.get("REMOTE_ADDR") in {"127.0.0.1", "::1"} and host in LOOPBACK_HOSTS


def _stop_if(request: HttpRequest, refusal: str) -> None:
    if refusal:
        request.login_refusal = refusal  # type: ignore[attr-defined]  # read by the form
        raise PermissionDenied(refusal)
