"""Where this register answers, as far as its settings say; for papers written by commands."""

from django.conf import settings


def own_address() -> str:
    """The address without a slash at its end: HTTPS behind a proxy, else the loopback."""
    if settings.ON_LOOPBACK:
        return f"http://127.0.0.1:{settings.PORT}"
    return f"https://{settings.ALLOWED_HOSTS[0].lstrip('.*')}"
