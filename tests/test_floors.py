"""The floors of fxseq/: imports only ever point down, each floor says what it is, and `__all__`
holds.
"""

import ast
import importlib
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

pytestmark = pytest.mark.quick

PACKAGE = Path(__file__).parent.parent / "fxseq"

# From the lowest floor to the highest. Floors of one row do not import each other.
ROWS = [
    ["sequence"],
    ["acoustics", "power", "hazards"],
    ["clips", "light"],
    ["table"],
    ["player"],
    ["link", "firmware"],
    ["runs"],
    ["checks"],
    ["advice"],
    ["plots"],
    ["bench", "papers"],
    ["cli"],
]
# Pure physics knows nothing of tables and players: it takes arrays and part models. Clips know of
# physics only what an ear hears.
ONLY = {floor: {"sequence"} for floor in ("acoustics", "power", "hazards", "light")}
ONLY["clips"] = {"sequence", "acoustics"}
# Compiled code is loaded only where a clip needs it, so it is imported in the function that calls
# it.
LOADED_LATE = {("clips.qoa", "clips.qoa_kernels"), ("clips.rice", "clips.rice_kernels")}

RIMS = {"cli", "bench", "link", "firmware"}
"""Where files, ports and screens are."""
LEVEL = {floor: level for level, row in enumerate(ROWS) for floor in row}
MODULES = sorted(PACKAGE.rglob("*.py"))


def imports_of(module: Path) -> set[str]:
    """Floors that a module imports, relative imports resolved."""
    floor = module.relative_to(PACKAGE).parts[0]
    found = set()
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
        if isinstance(node, ast.ImportFrom):
            names = [f"fxseq.{floor}"] if node.level == 1 else [node.module or ""]
            assert node.level <= 1, f"{module}: relative import beyond its floor"
        found |= {name.split(".")[1] for name in names if name.startswith("fxseq.")}
    return found


def test_every_folder_is_a_known_floor():
    # A folder that has moved may have left its byte code behind.
    folders = {path.parent.name for path in PACKAGE.glob("*/*.py")}
    assert folders == set(LEVEL)
    assert [path.name for path in PACKAGE.iterdir() if path.is_file()] == ["__init__.py"]


@pytest.mark.parametrize("floor", sorted(LEVEL))
def test_a_quick_run_tries_the_floor(floor: str):
    """`tests/run --quick` runs what is marked so."""
    assert any(
        "mark.quick" in path.read_text(encoding="utf-8")
        for path in (Path(__file__).parent / floor).glob("test_*.py")
    )


@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_imports_point_down(module: Path):
    floor = module.relative_to(PACKAGE).parts[0]
    if floor == "__init__.py":
        assert imports_of(module) == set()
        return
    others = imports_of(module) - {floor}
    assert all(LEVEL[other] < LEVEL[floor] for other in others)
    assert others <= ONLY.get(floor, set(LEVEL))


def name_of(module: Path) -> str:
    return ".".join(module.relative_to(PACKAGE).with_suffix("").parts).removesuffix(".__init__")


def needs(module: Path) -> set[str]:
    """Modules that a module imports, at its top, in a function, or for its types alone."""
    known = {name_of(path) for path in MODULES}
    found = set()
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("fxseq."):
            source = node.module.removeprefix("fxseq.")
            found |= {
                f"{source}.{alias.name}" if f"{source}.{alias.name}" in known else source
                for alias in node.names
            }
    return found - {name_of(module)}


def test_no_modules_need_each_other():
    graph = {
        name_of(module): {
            other for other in needs(module) if (name_of(module), other) not in LOADED_LATE
        }
        for module in MODULES
    }
    assert len(list(TopologicalSorter(graph).static_order())) >= len(MODULES)


@pytest.mark.parametrize("floor", sorted(LEVEL))
def test_floor_says_what_it_is_and_what_it_offers(floor: str):
    module = importlib.import_module(f"fxseq.{floor}")
    assert module.__doc__ and len(module.__doc__.split()) >= 10
    assert len(module.__all__) == len(set(module.__all__))
    assert all(hasattr(module, name) for name in module.__all__)


READERS = {
    "clips/recording.py",
    "clips/found.py",
    "sequence/reading.py",
    "sequence/document.py",
    "sequence/writing.py",
    "sequence/sound_parts.py",
    "sequence/board_parts.py",
    "power/parts.py",
    "papers/html.py",
}
"""Readers and writers of files below the rims; the last four read data of the package."""
FILE_CALLS = {"read_text", "read_bytes", "write_text", "write_bytes", "unlink", "mkdir", "touch"}


def calls_of(module: Path) -> set[str]:
    """Names of functions that a module calls, and of methods with a dot before them."""
    calls = [
        node.func
        for node in ast.walk(ast.parse(module.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call)
    ]
    methods = {f".{call.attr}" for call in calls if isinstance(call, ast.Attribute)}
    return methods | {call.id for call in calls if isinstance(call, ast.Name)}


@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_only_rims_print_or_open(module: Path):
    """They belong to the command line, the bench, the link's ports, and the readers and writers
    of files.
    """
    where = module.relative_to(PACKAGE)
    if where.parts[0] in RIMS or str(where) in READERS:
        return
    assert not calls_of(module) & {"print", "open", "input", *(f".{name}" for name in FILE_CALLS)}


def is_endless(cache: ast.expr) -> bool:
    """Whether a decorator keeps whatever it is given."""
    return ast.unparse(cache) in {
        "cache",
        "functools.cache",
        "lru_cache(None)",
        "lru_cache(maxsize=None)",
    }


@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_what_is_kept_below_the_rims_does_not_grow(module: Path):
    """A cache of a function of nothing holds one value; every other one has a bound."""
    functions = [
        node
        for node in ast.walk(ast.parse(module.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef)
    ]
    growing = [
        each.name
        for each in functions
        if each.args.args and any(map(is_endless, each.decorator_list))
    ]
    assert growing == [] or module.relative_to(PACKAGE).parts[0] in RIMS


@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_lines_have_at_most_100_columns(module: Path):
    lines = module.read_text(encoding="utf-8").splitlines()
    assert [number for number, line in enumerate(lines, 1) if len(line) > 100] == []
