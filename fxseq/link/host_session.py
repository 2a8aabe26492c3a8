"""The host's side of the link: bytes in, bytes out, time passed in; no port, no clock (LINK
sections 4 to 6).

A conversation is a generator: it sends through its `Talk`, yields the time at which it wants to go
on at the latest, and is resumed with what arrived, or with None once that time has come.
`HostSession` feeds it frames and time.
"""

from collections.abc import Callable, Generator
from typing import Generic, NamedTuple, TypeVar

from fxseq.link import faults
from fxseq.link import messages as m
from fxseq.link.frames import END, FrameDecoder, encode_frame

HELLO_PATIENCE_S = 2.0
PATIENCE_S = 5.0
"""How long a board that has answered before may be silent."""
LONGEST_WORK_S = 120.0
"""How long a board may go on saying that it is still at work."""
STUCK_S = 30.0
"""How long a board may go on answering without getting further."""
REPEAT_EVERY_S = 0.25

Result = TypeVar("Result")
Answer = TypeVar("Answer", bound=m.Message)
Steps = Generator[float, m.Tagged | None, Result]


class Progress(NamedTuple):
    """How far a push is. eta_s: time still to go at the rate so far; 0.0 before there is a rate."""

    done_bytes: int
    total_bytes: int
    bytes_per_s: float
    eta_s: float


class Talk:
    """What a conversation may do: send, take tags, say how far it is and what state it would
    leave the board in.
    """

    def __init__(self, where: str, first_tag: int, baud: int) -> None:
        self.where = where
        self.first_baud = self.baud = baud
        """Speed for all that is sent and heard from here on; 0 for a line that has none."""
        self.now_s = 0.0
        self.aftermath = ""
        """What to tell the user about the board if the conversation ends here."""
        self.progress: Progress | None = None
        self.sent_bytes = 0
        self.decoder = FrameDecoder()
        self.heard_bytes = 0
        self.out = bytearray()
        self._tag = first_tag % m.TAGS

    def new_tag(self) -> int:
        """The next tag in turn."""
        self._tag = (self._tag + 1) % m.TAGS
        return self._tag

    def send(self, message: m.Message, tag: int) -> None:
        """Put a message on the line."""
        self.send_raw(encode_frame(message.encode(tag)))

    def request(self, message: m.Message, tag: int) -> None:
        """Put a message on the line behind an end byte, or it would be lost with half a frame
        that the board may hold (LINK 2 R3).
        """
        self.send_raw(END)
        self.send(message, tag)

    def send_raw(self, data: bytes) -> None:
        """Put bytes on the line."""
        self.out += data
        self.sent_bytes += len(data)


Script = Callable[[Talk], Steps[Result]]


class HostSession(Generic[Result]):
    """One conversation with a board. `receive` and `tick` return bytes to send, and raise
    LinkError where the conversation fails.
    """

    def __init__(
        self, script: Script[Result], where: str, first_tag: int = 0, baud: int = 0
    ) -> None:
        """where: the port, as the user would name it. first_tag: any number; another one than
        the last time keeps old answers apart. baud: speed of the line; 0 for one that has none.
        What `receive` and `tick` return is to be sent at `talk.baud`.
        """
        self.talk = Talk(where, first_tag, baud)
        self.result: Result | None = None
        self.done = False
        self.deadline_s = 0.0
        """When `tick` must be called, at the latest."""
        self._steps = script(self.talk)
        self._started = False

    def receive(self, data: bytes, now_s: float) -> bytes:
        """Take bytes from the line."""
        self.talk.heard_bytes += len(data)
        for body in self.talk.decoder.feed(data):
            try:
                arrival = m.decode_message(body)
            except m.OtherVersion as other:
                raise faults.other_version(self.talk.where, other.version) from None
            except m.BadMessage:
                continue
            self._go_on(arrival, now_s)
        return self.tick(now_s)

    def tick(self, now_s: float) -> bytes:
        """Let time pass."""
        if not self._started or now_s >= self.deadline_s:
            self._go_on(None, now_s)
        out = bytes(self.talk.out)
        self.talk.out.clear()
        return out

    def _go_on(self, arrival: m.Tagged | None, now_s: float) -> None:
        self.talk.now_s = now_s
        if self.done or (arrival is not None and not self._started):
            return
        try:
            self.deadline_s = self._steps.send(arrival if self._started else None)
            self._started = True
        except StopIteration as end:
            self.done = True
            self.result = end.value


def ask(
    talk: Talk, message: m.Message, kind: type[Answer], sent_with: int | None = None
) -> Steps[tuple[int, Answer]]:
    """Send a request until it is answered; the tag used and the answer. Raises LinkError on an
    error or after long silence.

    sent_with: the tag, where the request has just been sent.
    """
    tag = sent_with if sent_with is not None else talk.new_tag()
    if sent_with is None:
        talk.request(message, tag)
    begun = heard = talk.now_s
    repeat_at = begun + REPEAT_EVERY_S
    while True:
        arrival = yield min(repeat_at, heard + PATIENCE_S)
        if arrival is None:
            if talk.now_s >= heard + PATIENCE_S:
                raise faults.no_answer(talk.where, talk.now_s - heard, talk.aftermath)
            talk.request(message, tag)
            repeat_at = talk.now_s + REPEAT_EVERY_S
        elif arrival.tag == tag:
            if isinstance(arrival.message, kind):
                return tag, arrival.message
            if isinstance(arrival.message, m.Error):
                raise faults.refused(talk.where, arrival.message, talk.aftermath)
            if isinstance(arrival.message, m.Wait):
                heard = talk.now_s
                repeat_at = talk.now_s + REPEAT_EVERY_S
                if talk.now_s >= begun + LONGEST_WORK_S:
                    raise faults.still_at_work(talk.where, talk.now_s - begun, talk.aftermath)


def pause(talk: Talk, seconds: float) -> Steps[None]:
    """Wait; what arrives meanwhile is nobody's."""
    resume_at = talk.now_s + seconds
    while (yield resume_at) is not None:
        pass


def hello(talk: Talk) -> Steps[m.Board]:
    """Ask who is there; the first thing in every conversation."""
    board, _ = yield from hello_and(talk)
    return board


def hello_and(talk: Talk, *behind: m.Message) -> Steps[tuple[m.Board, list[int]]]:
    """As hello, with requests sent right behind it, so that they take no round trip of their
    own; the tags that these have got.
    """
    begun = talk.now_s
    tag, *tags = [talk.new_tag() for _ in (None, *behind)]
    while talk.now_s < begun + HELLO_PATIENCE_S:
        talk.request(m.Hello(), tag)
        for message, its_tag in zip(behind, tags, strict=True):
            talk.send(message, its_tag)
        repeat_at = min(talk.now_s + REPEAT_EVERY_S, begun + HELLO_PATIENCE_S)
        while (arrival := (yield repeat_at)) is not None:
            if arrival.tag == tag and isinstance(arrival.message, m.Board):
                talk.aftermath = faults.UNTOUCHED if arrival.message.has_table else faults.EMPTY
                return arrival.message, tags
    if talk.heard_bytes:
        raise faults.not_a_board(talk.where)
    raise faults.silence(talk.where, HELLO_PATIENCE_S)
