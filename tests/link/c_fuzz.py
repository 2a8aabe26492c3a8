"""The C session against the Python one: the same bytes, the same answers, the same flash memory.
Also a command, for a sanitized library.

What may differ is left out of the comparison: WAIT (a board says it when it likes), the detail of
BAD_FIELD ("any number").
"""

import ctypes
import random
import sys
from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from struct import pack

from c_board import CBoard, load
from c_players import INPUTS, Beats, PressedBeats
from simulated import MemoryFlash, check, make_table

from fxseq.link import messages as m
from fxseq.link.board_session import Ability, BoardSession
from fxseq.link.counts import COUNT_PAGES, Counts
from fxseq.link.frames import FrameDecoder, encode_frame

BLOCK = 32
PRESS_ROOM = 5
TRACE_ROOM = 20
BUILDS = {
    "small": (
        f"-DFXL_BLOCK_BYTES={BLOCK}",
        f"-DFXL_PRESS_ROOM={PRESS_ROOM}",
        f"-DFXL_TRACE_ROOM={TRACE_ROOM}",
        "-DFXL_WRITE_BYTES=16",
    ),
    "large": (),
    "least": (
        "-DFXL_WITHOUT_RUNS",
        "-DFXL_WITHOUT_READING",
        "-DFXL_WITHOUT_SPEED",
        "-DFXL_WITHOUT_HALVES",
    ),
}
"""The small one has many blocks in tables of a few hundred bytes, and queues that overflow."""
ABILITIES = {
    "small": Ability(
        "test board", 7, block_bytes=BLOCK, press_room=PRESS_ROOM, trace_room=TRACE_ROOM
    ),
    "large": Ability(
        "a name of just 24 bytes.",
        7,
        features=m.Feature.RUNS
        | m.Feature.SOUND
        | m.Feature.READING
        | m.Feature.COPYING
        | m.Feature.SPEED
        | m.Feature.COUNTING
        | m.Feature.HALVING,
        most_baud=1_000_000,
    ),
    "least": Ability("least", features=m.Feature.LIGHT, press_room=0, trace_room=0),
}
PAGES = 2 + 2 * 12
PAGE_BYTES = 64
SLOT_BYTES = 12 * PAGE_BYTES


def asks(table: bytes) -> bool:
    """Half of all tables ask to count."""
    return bool(table[-1] & 1)


class Pair:
    """Both sessions, each with its flash memory."""

    def __init__(self, library: ctypes.CDLL, ability: Ability) -> None:
        self.library = library
        self.ability = ability
        self.flashes = [MemoryFlash(PAGES, PAGE_BYTES) for _ in range(2)]
        self.counts = [MemoryFlash(COUNT_PAGES, PAGE_BYTES) for _ in range(2)]
        self.now_s = 0.0
        self.power_up()

    def power_up(self, damaged: int | None = None) -> None:
        """Both anew, with what their flash memories hold. damaged: a byte of it."""
        for flash in self.flashes:
            if damaged is not None:
                flash.data[damaged] ^= 1
        counts = self.counts if self.ability.features & m.Feature.COUNTING else (None, None)
        self.boards = (
            BoardSession(
                self.ability,
                self.flashes[0],
                check,
                PressedBeats,
                counts[0] and Counts(counts[0]),
                asks,
            ),
            CBoard(
                self.library, self.flashes[1], check, Beats, self.ability, counts[1], asks
            ),
        )
        self.compare([b"", b""])

    def tell(self, data: bytes, work: bool) -> None:
        """Bytes for both, and all the work that is pending, if they are to do it; they must
        answer the same.
        """
        answers = []
        for board in self.boards:
            out = board.receive(data, self.now_s)
            while work:
                out += board.step(self.now_s)
                if not board.busy:
                    break
            answers.append(out)
        self.compare(answers)

    def preload(self, table: bytes) -> None:
        """Have a table play."""
        crc = m.table_crc(table)
        size = self.ability.block_bytes
        blocks = [
            m.Data(number, table[number * size : (number + 1) * size])
            for number in range(-(-len(table) // size))
        ]
        for message in (m.Begin(len(table), crc), *blocks, m.Verify(), m.Commit(len(table), crc)):
            self.tell(encode_frame(message.encode(0)), True)
        assert self.boards[0].player.table == table

    def pass_time(self, seconds: float) -> None:
        """With nothing on the line."""
        self.tell(b"", True)
        self.now_s += seconds
        self.compare([board.step(self.now_s) for board in self.boards])

    def jump(self, frame: int) -> None:
        """As if both had played up to this frame."""
        self.boards[0].player._beats.frame = frame
        self.boards[1].jump(frame)

    def play(self, frames: int) -> None:
        """Let both clocks run."""
        for board in self.boards:
            if board.player is not None:
                board.play(board.player.frame + frames)

    def compare(self, answers: list[bytes]) -> None:
        """Answers and state."""
        ours, theirs = (
            [plain(message) for message in FrameDecoder().feed(answer)] for answer in answers
        )
        assert [one for one in ours if one is not None] == [
            one for one in theirs if one is not None
        ], (ours, theirs)
        assert self.flashes[0].data == self.flashes[1].data
        assert self.counts[0].data == self.counts[1].data
        plays = [
            (board.player.table, board.player.frame) if board.player is not None else None
            for board in self.boards
        ]
        assert plays[0] == plays[1]
        assert self.boards[0].baud == self.boards[1].baud


def plain(data: bytes) -> tuple[int, m.Message] | None:
    """An answer, without what may differ."""
    tag, message = m.decode_message(data)
    if isinstance(message, m.Wait):
        return None
    if isinstance(message, m.Error) and message.code == m.ErrorCode.BAD_FIELD:
        message = m.Error(m.ErrorCode.BAD_FIELD, 0)
    return tag, message


class Host:
    """Says things to a board that are mostly sensible."""

    def __init__(self, dice: random.Random, block_bytes: int) -> None:
        self.dice = dice
        self.block_bytes = self.whole_bytes = block_bytes
        sizes = [5, 40, 100, 300, 700, SLOT_BYTES]
        self.tables = [
            make_table(dice.choice(sizes), seed, dice.choice([b"", b"", b"bad"]))
            for seed in range(3)
        ]
        self.tables.append(self.tables[0][:-1] + b"x")
        self.table = self.tables[0]
        self.tag = 1
        self.number = 0
        self.pressed = 0

    def messages(self) -> Iterator[bytes]:
        """Pushes and runs without end, with other messages in between and some left out."""
        while True:
            for message in self.dice.choice([self.push, self.play])():
                if self.dice.random() < 0.97:
                    yield message
                while self.dice.random() < 0.1:
                    yield self.dice.choice(
                        [
                            self.hello,
                            self.begin,
                            self.data,
                            self.verify,
                            self.commit,
                            self.restart,
                            self.run,
                            self.presses,
                            self.clock,
                            self.trace,
                            self.read,
                            self.sum,
                            self.copy,
                            self.halve,
                            self.counts,
                            self.speed,
                            self.odd,
                        ]
                    )()

    def push(self) -> Iterator[bytes]:
        """A whole one, most of the time."""
        yield self.begin()
        for _ in range(self.dice.randint(len(self.table) // self.whole_bytes, 40)):
            yield self.dice.choices([self.data, self.copy, self.halve], [89, 9, 2])[0]()
        yield self.verify()
        yield self.commit()

    def play(self) -> Iterator[bytes]:
        """A run with presses."""
        yield self.restart()
        yield self.presses()
        yield self.run()
        for _ in range(4):
            yield self.trace()
            yield self.presses()
            yield self.clock()

    def hello(self) -> bytes:
        return m.Hello(self.dice.choice([1, 1, 2])).encode(self.any_tag())

    def begin(self) -> bytes:
        dice = self.dice
        if dice.random() < 0.9:
            self.table, self.tag, self.number = dice.choice(self.tables), self.any_tag(), 0
            self.block_bytes = self.whole_bytes
        length = (
            len(self.table)
            if dice.random() < 0.9
            else dice.choice([4, 5, SLOT_BYTES, SLOT_BYTES + 1, 0xFFFFFFFF])
        )
        return (
            bytes([m.Begin.KIND | self.tag << 5])
            + length.to_bytes(4, "little")
            + m.table_crc(self.table).to_bytes(4, "little")
        )

    def data(self) -> bytes:
        dice = self.dice
        size = self.block_bytes
        blocks = -(-len(self.table) // size)
        number = self.number % blocks
        if dice.random() < 0.95:
            self.number += 1
        else:
            number = dice.randrange(blocks + 1)
        block = self.table[number * size : (number + 1) * size] or b"?"
        if dice.random() < 0.03:
            block = dice.choice([block[:-1] or b"??", bytes([block[0] ^ 1]) + block[1:]])
        return m.Data(number, block).encode(self.tag if dice.random() < 0.97 else self.any_tag())

    def read(self) -> bytes:
        dice = self.dice
        offset = dice.choice([0, dice.randrange(800), 0xFFFFFFFF])
        return m.Read(offset).encode(self.any_tag())

    def sum(self) -> bytes:
        dice = self.dice
        offset = dice.choice([0, dice.randrange(60), dice.randrange(800), 0xFFFFFFFF])
        length = dice.choice([1, dice.randrange(1, 60), dice.randrange(800), 0xFFFFFFFF])
        return bytes([m.Sum.KIND | self.any_tag() << 5]) + pack("<II", offset, length)

    def copy(self) -> bytes:
        """Blocks from where the push has come to; what they hold is anybody's."""
        dice = self.dice
        blocks = -(-len(self.table) // self.block_bytes)
        first = dice.choice([self.number % blocks, dice.randrange(blocks + 1), 0xFFFF])
        count = dice.choice([1, 1, dice.randrange(blocks + 1), 0xFFFF])
        offset = dice.choice([0, 1, dice.randrange(60), dice.randrange(800), 0xFFFFFFFF])
        tag = self.tag if dice.random() < 0.97 else self.any_tag()
        return bytes([m.Copy.KIND | tag << 5]) + pack("<HHI", first, count, offset)

    def halve(self) -> bytes:
        """Mostly as the board will understand it: what is sent from now on is halves."""
        if self.block_bytes == self.whole_bytes:
            self.block_bytes //= 2
            self.number *= 2
        tag = self.any_tag()
        if self.dice.random() < 0.9:
            self.tag = tag
        return m.Halve().encode(tag)

    def counts(self) -> bytes:
        return m.CountsQuery().encode(self.any_tag())

    def speed(self) -> bytes:
        baud = self.dice.choice([115_199, 115_200, 230_400, 1_000_001, 2_000_000, 2_000_001])
        return bytes([m.Speed.KIND | self.any_tag() << 5]) + baud.to_bytes(4, "little")

    def verify(self) -> bytes:
        return m.Verify().encode(self.any_tag())

    def commit(self) -> bytes:
        table = self.table if self.dice.random() < 0.9 else self.dice.choice(self.tables)
        if self.dice.random() < 0.03:
            return (
                bytes([m.Commit.KIND])
                + self.dice.choice([4, SLOT_BYTES]).to_bytes(4, "little")
                + bytes(4)
            )
        return m.Commit(len(table), m.table_crc(table)).encode(self.any_tag())

    def restart(self) -> bytes:
        self.pressed = 0
        return m.Restart().encode(self.any_tag())

    def run(self) -> bytes:
        return m.Run(
            self.dice.choice([0, 5, self.dice.randrange(300), m.FOR_EVER, m.FOR_EVER - 1])
        ).encode(self.any_tag())

    def presses(self) -> bytes:
        dice = self.dice
        count = dice.randint(1, 4 if self.whole_bytes == BLOCK else m.MOST_PRESSES)
        frames = sorted(dice.randrange(200) for _ in range(count))
        presses = [
            (
                frame,
                *dice.choice(
                    [
                        (0, dice.randrange(INPUTS), 0),
                        (1, dice.randrange(INPUTS), dice.randrange(3)),
                        (2, 1, dice.randrange(4)),
                        (3, 9, dice.randrange(257)),
                    ]
                ),
            )
            for frame in frames
        ]
        if dice.random() < 0.1:
            presses[dice.randrange(count)] = (
                dice.randrange(300),
                dice.randrange(5),
                dice.randrange(5),
                dice.choice([0, 5, 257, 65535]),
            )
        first = self.pressed
        if dice.random() < 0.2:
            first = dice.choice([0, first + 1, first - 1, first - 3, 0x8000, 0xFFFE]) & 0xFFFF
        elif dice.random() < 0.8:
            self.pressed = min(first + count, self.pressed + self.dice.randint(1, 5))
        return m.Presses(first, tuple(presses)).encode(self.any_tag())

    def clock(self) -> bytes:
        return m.ClockQuery().encode(self.any_tag())

    def trace(self) -> bytes:
        return m.TraceQuery(
            self.dice.choice([0, self.dice.randrange(100), self.dice.randrange(1000), 0xFFFFFFFF])
        ).encode(self.any_tag())

    def odd(self) -> bytes:
        """A message of any kind and length that the receiver has room for."""
        dice = self.dice
        return bytes([dice.randrange(256)]) + dice.randbytes(
            dice.choice([0, 1, 2, 3, 4, 7, 8, 9, 10, 18, 34])
        )

    def any_tag(self) -> int:
        return self.dice.randrange(8)


def on_the_line(dice: random.Random, message: bytes) -> bytes:
    """Its frame, now and then spoilt or with garbage around it."""
    frame = bytearray(encode_frame(message))
    fate = dice.random()
    if fate < 0.03:
        frame[dice.randrange(len(frame))] ^= 1 << dice.randrange(8)
    elif fate < 0.05:
        del frame[dice.randrange(len(frame))]
    elif fate < 0.07:
        frame = dice.randbytes(dice.choice([1, 5, 50, 700])) + frame
    elif fate < 0.09:
        frame = encode_frame(b"") + frame + b"\0" + frame
    elif fate < 0.10:
        frame = dice.choice([1, 2, 254, 255]).to_bytes() * dice.randrange(800) + b"\0" + frame
    return bytes(frame)


def converse(library: ctypes.CDLL, size: str, seed: int, rounds: int = 40) -> None:
    """A conversation with both. Raises AssertionError where they differ."""
    dice = random.Random(seed)
    pair = Pair(library, ABILITIES[size])
    host = Host(dice, pair.ability.block_bytes)
    for turn in range(dice.choice([0, 1, 1, 1, 2, 3, 4, 9])):
        pair.preload(make_table(60, turn))
    for message in islice(host.messages(), rounds):
        pair.tell(on_the_line(dice, message), dice.random() < 0.7)
        if dice.random() < 0.3:
            pair.play(dice.choice([1, 10, 100]))
        pair.now_s += dice.choice([0.0, 0.001, 0.1])
        if dice.random() < 0.02:
            pair.pass_time(dice.choice([1.0, 11.0]))
        if dice.random() < 0.02:
            pair.power_up(dice.randrange(PAGES * PAGE_BYTES) if dice.random() < 0.3 else None)
    pair.tell(b"", True)


def every_form(library: ctypes.CDLL, size: str) -> None:
    """Each kind with each number of bytes. Raises AssertionError where they differ."""
    pair = Pair(library, ABILITIES[size])
    pair.preload(make_table(60))
    for kind in range(32):
        for count in range(35):
            pair.tell(encode_frame(bytes([kind]) + bytes(count)), True)


def babble(library: ctypes.CDLL, size: str, seed: int) -> None:
    """Random bytes, bare and as messages. Raises AssertionError where the table does not play on
    or a HELLO is not answered.
    """
    dice = random.Random(seed)
    pair = Pair(library, ABILITIES[size])
    pair.preload(make_table(60))
    board = pair.boards[1]
    frame = encode_frame(m.Hello().encode(5))
    for _ in range(50):
        noise = dice.randbytes(dice.randrange(400))
        board.receive(noise + b"\0" if dice.random() < 0.3 else encode_frame(noise), 0.0)
        for _ in range(dice.randrange(3)):
            board.step(0.0)
        board.play(board.player.frame + 5)
    assert FrameDecoder().feed(board.receive(b"\0" + frame, 0.0))[-1][:2] == bytes(
        [5 << 5 | m.Board.KIND, m.PROTOCOL_VERSION]
    )
    assert CBoard(library, board.flash, check, Beats).player.table == make_table(60)


def main(path: str, size: str, count: str) -> None:
    """Conversations with the library at `path`, and noise."""
    library = load(Path(path))
    for seed in range(int(count)):
        converse(library, size, seed)
        babble(library, size, seed)
    print(f"{count} conversations, {count} times noise")


if __name__ == "__main__":
    main(*sys.argv[1:])
