"""Pictures to bytes, the same bytes every time, and bytes to files."""

import io
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from fxseq.plots.theme import THEMES, Theme, styled
from fxseq.sequence import Fault, OutputError, write_whole

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_DOTS_PER_INCH = 150
# What would tell machine, version or day apart is left out.
_METADATA = {
    "png": {"Software": None},
    "svg": {"Date": None, "Creator": None},
    "pdf": {"CreationDate": None, "Creator": None, "Producer": None},
}


def picture_bytes(figure: "Figure", kind: Literal["png", "svg", "pdf"]) -> bytes:
    """A figure as the bytes of a file: the same figure gives the same bytes."""
    import numpy as np

    data = io.BytesIO()
    # matplotlib names the clips of an SVG by how numpy prints numbers, which any other library may
    # have changed.
    with styled(_theme(figure)), np.printoptions(legacy=False):
        figure.savefig(data, format=kind, dpi=_DOTS_PER_INCH, metadata=_METADATA[kind])
    return data.getvalue()


def pages_bytes(figures: "Sequence[Figure]") -> bytes:
    """Figures of one theme as the pages of a PDF, which has each font once: the same bytes every
    time.
    """
    from matplotlib.backends.backend_pdf import PdfPages

    data = io.BytesIO()
    # Fonts are written at the end, in the form that the settings say then.
    with styled(_theme(figures[0])), PdfPages(data, metadata=_METADATA["pdf"]) as pages:
        for figure in figures:
            pages.savefig(figure, dpi=_DOTS_PER_INCH)
    return data.getvalue()


def save(figure: "Figure", path: Path) -> None:
    """Write a figure as .png, .svg or .pdf, whole or not at all. Raises OutputError."""
    kind = path.suffix.lower().removeprefix(".")
    if kind not in _METADATA:
        raise OutputError(
            Fault(
                str(path),
                f"a picture cannot be written as '{path.suffix}'",
                ", ".join(f".{kind}" for kind in _METADATA),
            )
        )
    write_whole(path, picture_bytes(figure, kind))


def _theme(figure: "Figure") -> Theme:
    """The theme that it was drawn in: matplotlib makes ticks only when it writes, and asks for
    their colour then.
    """
    from matplotlib.colors import to_hex

    return next(
        theme for theme in THEMES.values() if theme.ground == to_hex(figure.get_facecolor())
    )
