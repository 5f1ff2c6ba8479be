"""A socket with an end in time for all that is read, however slowly it drips."""

import io
import socket
from collections.abc import Callable
from typing import Any


class TimeIsUp(TimeoutError):
    """The time for the whole page is over."""


class TimedSocket:
    """What an HTTP answer reads from: each read waits for what is left of the whole time."""

    def __init__(self, sock: socket.socket, end: float, clock: Callable[[], float]) -> None:
        self._sock, self._end, self._clock = sock, end, clock

    def sendall(self, data: bytes) -> None:
        self._sock.settimeout(self._left())
        self._sock.sendall(data)

    def makefile(self, mode: str = "rb", *_: Any) -> io.BufferedReader:
        return io.BufferedReader(_TimedReading(self))

    def recv_into(self, buffer: Any) -> int:
        self._sock.settimeout(self._left())
        return self._sock.recv_into(buffer)

    def _left(self) -> float:
        left = self._end - self._clock()
        if left <= 0:
            raise TimeIsUp
        return left


class _TimedReading(io.RawIOBase):
    def __init__(self, sock: TimedSocket) -> None:
        super().__init__()
        self._sock = sock

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: Any) -> int:
        return self._sock.recv_into(buffer)
