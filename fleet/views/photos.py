"""One photo, to those who see its site."""

from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from fleet.queries.photos import photo_for
from fleet.views.gate import person_of, politely


@politely
@require_safe
def photo(request: HttpRequest, photo_id: int) -> HttpResponse:
    """The picture alone. It never changes, so its reader's own browser may keep it an hour."""
    found = photo_for(person_of(request), photo_id)
    if found is None:
        raise Http404
    answer = HttpResponse(bytes(found.content), content_type=found.media_type)
    answer["X-Content-Type-Options"] = "nosniff"
    answer["Cache-Control"] = "private, max-age=3600, immutable"
    answer["Content-Security-Policy"] = "default-src 'none'; sandbox"
    answer["Content-Disposition"] = f'inline; filename="photo-{found.pk}.jpg"'
    return answer
