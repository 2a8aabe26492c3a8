"""The small prop of the floor below, for its findings."""

from tests.runs.conftest import build, played, values, write_sound

__all__ = ["build", "played", "values", "write_sound"]
