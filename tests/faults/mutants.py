"""How many small faults in the package its tests notice, floor by floor: `python
tests/faults/mutants.py [FLOOR ...] [--count 30] [--seed 1]`.

A fault is one change in the syntax of a function: a comparison at its limit or the other way round,
a sum as a difference, a term left out, a constant off by one, two arguments swapped, a condition
negated. Which ones are tried is drawn from the seed. Each is put into a fork of a pytest that has
read the floor's tests and run none; there those files are run that call the function, quick tests
first, up to the first that fails. Tests that take longer than `--longest` seconds are left out, so
what is missed here may be caught by a whole run. Constants outside of functions and compiled
functions are not tried.
"""

import argparse
import ast
import gc
import os
import pickle
import random
import signal
import sys
import threading
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from itertools import zip_longest
from pathlib import Path
from types import CodeType, FunctionType
from typing import NamedTuple

import pytest

TOP = Path(__file__).parents[2]
PACKAGE = TOP / "fxseq"
FLOORS = sorted(file.parent.name for file in PACKAGE.glob("*/__init__.py"))
FURTHER = {
    "light": ["conformance/test_light.py", "published/test_lightness.py"],
    "player": [
        f"conformance/test_{name}.py"
        for name in (
            "effects",
            "inputs",
            "light",
            "sound",
            "triggers",
            "player_calls",
            "vectors",
            "under_hand",
        )
    ],
    "acoustics": [
        "published/test_speaker.py",
        "published/test_driver.py",
        "published/test_loudness.py",
        "published/test_weighting.py",
    ],
    "hazards": [
        "published/test_flashes.py",
        "published/test_flash_area.py",
        "published/test_hearing.py",
        "published/test_flicker.py",
    ],
    "power": [
        "published/test_power_supply.py",
        "published/test_power_wires.py",
        "published/test_power_led.py",
    ],
}
"""Tests of a floor that stand in another folder than its own."""
PATIENCE = 20
"""A fault is caught, too, if its tests take so many times as long as without it, or a minute
longer.
"""


class Mutant(NamedTuple):
    """A fault. place: line and column. code: of the function that has it."""

    file: str
    place: str
    what: str
    name: str
    code: CodeType


class Outcome(NamedTuple):
    """How a test ended without a fault: its time, and the functions of the package that it
    called.
    """

    ok: bool
    seconds: float
    called: frozenset[tuple[str, str]]


# The faults

FLIPPED = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
}
SWITCHED = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult,
}
Change = tuple[str, Callable[[], ast.expr]]


def changes(node: ast.AST) -> Iterator[Change]:
    """What can be put in the place of an expression."""
    if isinstance(node, ast.Compare) and len(node.ops) == 1 and type(node.ops[0]) in FLIPPED:
        other = FLIPPED[type(node.ops[0])]
        yield f"comparison becomes {other.__name__}", lambda: ast.Compare(
            node.left, [other()], node.comparators
        )
    if isinstance(node, ast.BinOp) and type(node.op) in SWITCHED:
        other = SWITCHED[type(node.op)]
        yield f"{type(node.op).__name__} becomes {other.__name__}", lambda: ast.BinOp(
            node.left, other(), node.right
        )
        yield "second term left out", lambda: node.left
    if isinstance(node, ast.BoolOp):
        yield "first condition left out", lambda: (
            node.values[1] if len(node.values) == 2 else ast.BoolOp(node.op, node.values[1:])
        )
        yield "last condition left out", lambda: (
            node.values[0] if len(node.values) == 2 else ast.BoolOp(node.op, node.values[:-1])
        )
    if isinstance(node, ast.UnaryOp):
        yield f"{type(node.op).__name__} left out", lambda: node.operand
    if isinstance(node, ast.Constant) and type(node.value) in (int, float):
        yield f"{node.value} becomes {node.value + 1}", lambda: ast.Constant(node.value + 1)
    if isinstance(node, ast.IfExp):
        yield "condition negated", lambda: ast.IfExp(
            ast.UnaryOp(ast.Not(), node.test), node.body, node.orelse
        )
    if isinstance(node, ast.Call) and len(node.args) == 2 and not _any_order(node):
        yield "arguments swapped", lambda: ast.Call(node.func, node.args[::-1], node.keywords)


def _any_order(call: ast.Call) -> bool:
    return ast.unparse(call.func) in ("min", "max") or any(
        isinstance(each, ast.Starred) for each in call.args
    )


class Put(ast.NodeTransformer):
    """Puts the change with one number into a tree, and counts them all."""

    def __init__(self, wanted: int = -1) -> None:
        self.wanted = wanted
        self.count = 0
        self.what = self.place = ""

    def visit(self, node: ast.AST) -> ast.AST:
        for what, make in changes(node):
            self.count += 1
            if self.count - 1 == self.wanted:
                self.what = what
                self.place = f"{node.lineno}:{node.col_offset + 1}"
                return ast.fix_missing_locations(ast.copy_location(make(), node))
        if isinstance(node, ast.AnnAssign):  # not what stands for its type
            return self._valued(node) if node.value else node
        return self.generic_visit(node)

    def _valued(self, node: ast.AnnAssign) -> ast.AST:
        node.value = self.visit(node.value)
        return node


Named = tuple[str, ast.FunctionDef | ast.AsyncFunctionDef]


def functions(tree: ast.Module) -> Iterator[Named]:
    """Functions of the module and methods of its classes, by their qualified names; without
    those that are compiled.
    """
    for node in tree.body:
        inner = (
            [(f"{node.name}.", each) for each in node.body]
            if isinstance(node, ast.ClassDef)
            else [("", node)]
        )
        for prefix, each in inner:
            is_function = isinstance(each, ast.FunctionDef | ast.AsyncFunctionDef)
            if is_function and not any(
                ast.unparse(deco).startswith(("compiled", "inlined"))
                for deco in each.decorator_list
            ):
                yield prefix + each.name, each


def code_of(module: CodeType, name: str) -> CodeType | None:
    """The code of a function in that of its module."""
    for const in module.co_consts:
        if isinstance(const, CodeType):
            found = const if const.co_qualname == name else code_of(const, name)
            if found:
                return found
    return None


def places(floor: str) -> list[tuple[Path, str, int]]:
    """Every fault of a floor: file, function and number."""
    found = []
    for file in sorted((PACKAGE / floor).rglob("*.py")):
        for name, node in functions(ast.parse(file.read_text(encoding="utf-8"))):
            counting = Put()
            for statement in node.body:
                counting.visit(statement)
            found += [(file, name, number) for number in range(counting.count)]
    return found


def mutant(file: Path, name: str, number: int) -> Mutant | None:
    tree = ast.parse(file.read_text(encoding="utf-8"))
    node = dict(functions(tree))[name]
    put = Put(number)
    node.body = [put.visit(statement) for statement in node.body]
    code = code_of(compile(ast.fix_missing_locations(tree), str(file), "exec"), name)
    return Mutant(str(file), put.place, put.what, name, code) if code else None


# Trying them


class Trial:
    """A plugin of pytest that runs the tests in forks: once as they are, and once for each
    fault.
    """

    def __init__(self, floor: str, count: int, seed: int, longest_s: float) -> None:
        self.floor = floor
        self.count = count
        self.seed = seed
        self.longest_s = longest_s
        self.survivors: list[Mutant] = []
        self.tried = 0
        self._failed = False

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        self._failed |= report.failed

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        outcomes = self._as_they_are(session)
        usable = [
            item
            for item in session.items
            if (found := outcomes.get(item.nodeid)) and found.ok and found.seconds <= self.longest_s
        ]
        callers = defaultdict(set)
        for item in usable:
            for function in outcomes[item.nodeid].called:
                callers[function].add(item.path)
        if not self._passes(lambda: self._catches(None, usable), 600):
            raise pytest.UsageError(
                f"{self.floor}: tests that passed in one fork do not in another"
            )
        chosen = places(self.floor)
        random.Random(self.seed).shuffle(chosen)
        for place in chosen:
            if self.tried == self.count:
                break
            if found := mutant(*place):
                # A file whose fixtures call a function calls it once, in whatever test comes first.
                items = [item for item in usable if item.path in callers[found.file, found.name]]
                items.sort(key=lambda item: outcomes[item.nodeid].seconds)
                self._try(found, items, sum(outcomes[item.nodeid].seconds for item in items))
        return True

    def _as_they_are(self, session: pytest.Session) -> dict[str, Outcome]:
        reading, writing = os.pipe()
        if not (child := os.fork()):
            os.close(reading)
            found = {
                item.nodeid: self._outcome(item, following)
                for item, following in _in_turn(session.items)
            }
            with os.fdopen(writing, "wb") as out:
                pickle.dump(found, out)
            os._exit(0)
        os.close(writing)
        with os.fdopen(reading, "rb") as told:
            found = pickle.load(told)
        os.waitpid(child, 0)
        return found

    def _outcome(self, item: pytest.Item, following: pytest.Item | None) -> Outcome:
        called: set[tuple[str, str]] = set()
        inside = str(PACKAGE)

        def heed(frame, event: str, _: object) -> None:
            code = frame.f_code
            if event == "call" and code.co_filename.startswith(inside):
                called.add((code.co_filename, code.co_qualname))

        self._failed = False
        start_s = time.monotonic()
        threading.setprofile(heed)  # the bench is served by a thread
        sys.setprofile(heed)
        item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
        sys.setprofile(None)
        threading.setprofile(None)
        return Outcome(not self._failed, time.monotonic() - start_s, frozenset(called))

    def _try(self, found: Mutant, items: list[pytest.Item], usual_s: float) -> None:
        self.tried += 1
        if not self._passes(lambda: self._catches(found, items), 60 + PATIENCE * usual_s):
            return
        self.survivors.append(found)
        print(
            f"  not caught: {Path(found.file).relative_to(TOP)}:{found.place} {found.name}:"
            f" {found.what} ({len(items)} tests call it)",
            file=sys.__stdout__,
            flush=True,
        )

    @staticmethod
    def _passes(run: Callable[[], int], within_s: float) -> bool:
        """Whether it gives 0 in a fork, in time."""
        if not (child := os.fork()):
            os.setpgid(0, 0)
            os._exit(run())
        return _ends_well(child, within_s)

    def _catches(self, found: Mutant | None, items: list[pytest.Item]) -> int:
        for function in gc.get_objects() if found else ():
            if isinstance(function, FunctionType) and (
                function.__code__.co_filename,
                function.__code__.co_qualname,
            ) == (found.file, found.name):
                function.__code__ = found.code
        self._failed = False
        for item, following in _in_turn(items):
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
            if self._failed:
                return 1
        return 0


def _in_turn(items: list[pytest.Item]) -> Iterator[tuple[pytest.Item, pytest.Item | None]]:
    """Each with the one that follows, whose fixtures pytest keeps."""
    return zip_longest(items, items[1:])


def _ends_well(child: int, within_s: float) -> bool:
    """Whether a process ends with status 0 in time; it is ended after that."""
    until = time.monotonic() + within_s
    while time.monotonic() < until:
        ended, status = os.waitpid(child, os.WNOHANG)
        if ended:
            return status == 0
        time.sleep(0.02)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return False


def try_floor(floor: str, count: int, seed: int, longest_s: float) -> None:
    """Print what was not caught, and the share that was."""
    trial = Trial(floor, count, seed, longest_s)
    folders = [str(TOP / "tests" / name) for name in (floor, *FURTHER.get(floor, ()))]
    with open(os.devnull, "w") as nothing:
        stdout = sys.stdout
        sys.stdout = nothing
        try:
            pytest.main(
                ["-q", "-p", "no:cacheprovider", "-p", "no:xdist", "--capture=sys", *folders],
                plugins=[trial],
            )
        finally:
            sys.stdout = stdout
    caught = trial.tried - len(trial.survivors)
    print(f"{floor}: {caught} of {trial.tried} caught", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("floors", nargs="*", default=FLOORS, metavar="FLOOR")
    parser.add_argument("--count", type=int, default=30)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument(
        "--longest",
        type=float,
        default=2.0,
        help="seconds that a test may take to be among those that are run",
    )
    given = parser.parse_args()
    for floor in given.floors:
        if not (
            child := os.fork()
        ):  # each floor in a process of its own: what one has loaded is not in the way of the next
            try_floor(floor, given.count, given.seed, given.longest)
            os._exit(0)
        os.waitpid(child, 0)


if __name__ == "__main__":
    main()
