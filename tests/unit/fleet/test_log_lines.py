"""A log line is one line, whatever a stranger wrote into it."""

import logging

import pytest

from fleet.config.logs import OneLineFormatter


def line(message: str) -> str:
    record = logging.LogRecord("name", logging.INFO, "path", 1, "%s", (message,), None)
    return OneLineFormatter().format(record)


@pytest.mark.parametrize(
    ("mark", "shown"),
    [("\n", "\\n"), ("\r", "\\r"), ("\x1b", "\\x1b"), ("\u2028", "\\u2028"), ("\x00", "\\x00")],
)
def test_a_mark_that_would_end_or_colour_the_line_is_shown_escaped(mark: str, shown: str) -> None:
    written = line(f"tag{mark}2026-01-01 INFO forged")
    assert f"tag{shown}2026-01-01" in written
    assert mark not in written


def test_letters_of_other_scripts_stay() -> None:
    assert line("Überdruck Ø 12 шланг").endswith("Überdruck Ø 12 шланг")
