"""Log lines: one event, one line, whatever text a stranger put into it."""

import logging
from contextvars import ContextVar

current_request_id: ContextVar[str] = ContextVar("current_request_id", default="-")


class OneLineFormatter(logging.Formatter):
    """Time, level, request and message, with line breaks and control characters shown escaped."""

    def __init__(self) -> None:
        super().__init__("%(asctime)s %(levelname)s %(name)s %(request_id)s %(message)s")

    def format(self, record: logging.LogRecord) -> str:
        # Django logs an answer when the request's middleware is over; the record still has it.
        request = getattr(record, "request", None)
        record.request_id = getattr(request, "request_id", current_request_id.get())
        return _one_line(super().format(record))


def _one_line(text: str) -> str:
    return "".join(mark if mark.isprintable() else _escaped(mark) for mark in text)


def _escaped(mark: str) -> str:
    return mark.encode("unicode_escape").decode("ascii")
