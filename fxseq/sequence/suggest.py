"""The one place that guesses what a maker meant to write."""
from collections.abc import Iterable


def closest(word: str, known: Iterable[str]) -> str | None:
    """The known word that looks most like `word`, or None if none does."""
    from difflib import get_close_matches

    words = sorted(known)
    close = get_close_matches(word.lower(), words, n=1) or [other for other in words if len(word) > 2 and word.lower() in other]
    return close[0] if close else None


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """`Did you mean 'voices'?` for a word close to a known one, else the empty text."""
    match = closest(word, known)
    return f"Did you mean '{match}'?" if match else ""
