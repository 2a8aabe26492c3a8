"""The images that the package holds, one for each ready-made board."""

import hashlib
from dataclasses import dataclass
from importlib import resources

from fxseq.sequence.board_parts import BoardPart, board_parts


@dataclass(frozen=True)
class Image:
    """The program of one board, as the file that its boot loader or programmer takes. licences: of
    all that is in it, in words.
    """

    board: str
    part: BoardPart
    data: bytes
    licences: str

    @property
    def file(self) -> str:
        """Its usual name."""
        return self.part.image

    @property
    def sha256(self) -> str:
        """By which one file is told from another."""
        return hashlib.sha256(self.data).hexdigest()


def images() -> dict[str, Image]:
    """The images by the name of their board."""
    folder = resources.files("fxseq.firmware")
    return {
        name: Image(name, part, folder.joinpath(part.image).read_bytes(), _licences(name))
        for name, part in board_parts().items()
    }


def _licences(board: str) -> str:
    """What lies beside the image; without it, all of it is ours."""
    beside = resources.files("fxseq.firmware").joinpath(f"{board}.licences.txt")
    if beside.is_file():
        return beside.read_text("utf-8")
    return f"The program of the {board} holds fxseq's own code alone, under the MIT licence.\n"
