"""What a paper is made of, whether it becomes a PDF or a page."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from matplotlib.figure import Figure

BOX = "\u2610"
"""To be ticked off with a pen."""


@dataclass(frozen=True)
class Text:
    """A paragraph."""

    words: str


@dataclass(frozen=True)
class Items:
    """Short texts one below the other. marks: what stands before each."""

    rows: tuple[str, ...]
    marks: Literal["dots", "numbers", "boxes"] = "dots"


@dataclass(frozen=True)
class Table:
    """Rows of cells under a head. A row may begin with a box to be ticked off. room: columns left
    empty, to be written in. title: what stands above it, never on another page.
    """

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    ticks: bool = False
    room: tuple[str, ...] = ()
    title: str = ""

    @property
    def whole_head(self) -> tuple[str, ...]:
        """With the columns for a pen."""
        return (*([""] if self.ticks else []), *self.head, *self.room)

    @property
    def whole_rows(self) -> list[tuple[str, ...]]:
        """As `whole_head`."""
        return [
            (*([BOX] if self.ticks else []), *row, *("" for _ in self.room)) for row in self.rows
        ]


@dataclass(frozen=True)
class Drawing:
    """A figure. shows: in words, for those who do not see it. may_turn: whether it may lie on its
    side where it gets larger by that.
    """

    draw: "Callable[[], Figure]"
    shows: str
    may_turn: bool = True


Block = Text | Items | Table | Drawing


@dataclass(frozen=True)
class Section:
    """Blocks under a heading. on_new_page: where a reader would turn to it alone."""

    heading: str
    blocks: tuple[Block, ...]
    on_new_page: bool = False


@dataclass(frozen=True)
class Document:
    """A paper. mark: what tells it from others, on every page: revision and table. maker: who hands
    it over, empty where nobody is named. logo: the maker's, as the bytes of a PNG or JPEG.
    """

    title: str
    kind: str
    mark: str
    maker: str
    sections: tuple[Section, ...]
    logo: bytes = b""
