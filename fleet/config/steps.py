"""Telling a person how a start goes: one line a step, with its time."""

import sys
import time
from collections.abc import Callable
from typing import Any


class Halt(Exception):
    """A step that can't be done: what is wrong in one sentence, and the line that mends it."""

    def __init__(self, sentence: str, mend: str = "") -> None:
        super().__init__(sentence)
        self.sentence, self.mend = sentence, mend


class Steps:
    """Runs steps and prints them. A step's answer is the note printed behind its name."""

    def __init__(self, write: Callable[[str], object] | None = None) -> None:
        self._write = write or _to_screen

    def do(self, name: str, step: Callable[..., object], *arguments: Any) -> None:
        """Run one step; its line is printed when it is done, also when it failed."""
        began = time.perf_counter()
        try:
            note = step(*arguments)
        except BaseException:
            self._line(name, "FAILED", began)
            raise
        self._line(name, str(note or "done"), began)

    def halted(self, halt: Halt) -> None:
        mend = f"Mend it with:\n    {halt.mend}\n" if halt.mend else ""
        sys.stderr.write(f"\n{halt.sentence}\n{mend}")

    def _line(self, name: str, note: str, began: float) -> None:
        self._write(f"{name:<22} {note:<48} {time.perf_counter() - began:6.1f} s")


def _to_screen(line: str) -> None:
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()
