"""How long the server waits for a request to be whole: a connection that is only half open is closed."""

from __future__ import annotations

import asyncio

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

SECONDS = 15.0
"""From the first byte of a request, or the connection itself, to the last byte of the request."""


class PatientProtocol(H11Protocol):
    """Closes a connection whose request is not whole in SECONDS, however slowly its bytes drip in."""

    _waiting: asyncio.TimerHandle | None = None

    # The transport of a stream, as the protocol that this extends has it; asyncio promises any transport.
    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to wait for the first request."""
        super().connection_made(transport)
        self._wait()

    def data_received(self, data: bytes) -> None:
        """Take some bytes; wait on while the request is not whole."""
        super().data_received(data)
        if self.conn.their_state in (h11.IDLE, h11.SEND_BODY):
            self._wait()
        else:
            self._done()

    def send_400_response(self, msg: str) -> None:
        """Refuse what is no HTTP. Where it came in the middle of a request, there is nobody to answer any
        more."""
        super().send_400_response(msg)
        if self.cycle is not None:
            self.cycle.disconnected = True
            self.cycle.message_event.set()

    def connection_lost(self, exc: Exception | None) -> None:
        """Wait no more."""
        self._done()
        super().connection_lost(exc)

    def _wait(self) -> None:
        if self._waiting is None:
            self._waiting = self.loop.call_later(SECONDS, self._too_late)

    def _done(self) -> None:
        if self._waiting is not None:
            self._waiting.cancel()
            self._waiting = None

    def _too_late(self) -> None:
        self._waiting = None
        if not self.transport.is_closing():
            self.transport.abort()
