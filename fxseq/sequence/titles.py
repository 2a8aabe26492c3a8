"""What a title may hold."""

import unicodedata

LONGEST_TITLE = 80
_JOINERS = "\u200c\u200d"
"""Not seen, but scripts and emoji need them."""


def hidden_in(title: str) -> list[str]:
    """Letters that no page and no window can show, or that turn around what stands behind them."""
    return [
        letter
        for letter in title
        if unicodedata.category(letter) in ("Cc", "Cf") and letter not in _JOINERS
    ]


def visible(title: str) -> str:
    """The title with a space for each of these."""
    hidden = hidden_in(title)
    return "".join(" " if letter in hidden else letter for letter in title)
