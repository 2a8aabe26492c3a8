"""What every open page is told at once: that the prop has changed, here or outside, and how far
a push is.
"""

import asyncio
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

MOST_WAITING = 100
"""Messages that a page may leave unread before the oldest are dropped."""

News = dict[str, Any]


class Hub:
    """Passes messages on to whoever listens. Belongs to one event loop."""

    def __init__(self) -> None:
        self._listeners: set[asyncio.Queue[News]] = set()

    @contextmanager
    def listening(self) -> Iterator[asyncio.Queue[News]]:
        """A queue that gets every message from now on."""
        queue: asyncio.Queue[News] = asyncio.Queue(MOST_WAITING)
        self._listeners.add(queue)
        try:
            yield queue
        finally:
            self._listeners.discard(queue)

    def tell(self, news: News) -> None:
        """To all, without waiting for any."""
        for queue in self._listeners:
            if queue.full():
                queue.get_nowait()
            queue.put_nowait(news)
