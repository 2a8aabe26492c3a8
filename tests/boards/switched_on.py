"""What the emulated boards that are processes of their own have in common."""

import subprocess
from collections.abc import Mapping, Sequence
from os import PathLike
from types import TracebackType
from typing import Self

from processes import WITH_US


class SwitchedOn:
    """One power-up: a process that prints the URL of its serial line and runs until SIGTERM. Exit
    status: 2 where the firmware broke a rule of the chip, 3 where the power was cut.
    """

    def __init__(
        self, command: Sequence[str | PathLike[str]], env: Mapping[str, str] | None = None
    ) -> None:
        self._process = subprocess.Popen(
            [*WITH_US, *command],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env=env,
        )
        self.where = self._process.stdout.readline().strip()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Where nothing else has failed, a broken rule of the chip does."""
        messages, status = self.end()
        if kind is not None:
            print(messages)
        assert kind is not None or status == 0, messages

    def end(self) -> tuple[str, int]:
        """Switch it off; its messages and exit status."""
        if self._process.poll() is None:
            self._process.terminate()
        messages = self._process.communicate()[1]
        return messages, self._process.returncode
