"""The floors of fxseq/: imports only ever point down, each floor says what it is, and `__all__` holds."""
import ast
import importlib
from pathlib import Path

import pytest

pytestmark = pytest.mark.quick

PACKAGE = Path(__file__).parent.parent / "fxseq"

# From the lowest floor to the highest. Floors of one row do not import each other, except to the left where `MAY` says so.
ROWS = [["sequence"], ["clips", "light"], ["table"], ["player"], ["link"], ["acoustics", "power", "hazards"], ["checks"], ["tune", "fit"], ["plots"], ["bench"], ["cli"]]
# Pure physics knows nothing of tables and players: it takes arrays and part models.
ONLY = {"acoustics": {"sequence"}, "power": {"sequence"}, "hazards": {"sequence"}}

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
    folders = {path.name for path in PACKAGE.iterdir() if path.is_dir() and path.name != "__pycache__"}
    assert folders == set(LEVEL)
    assert [path.name for path in PACKAGE.iterdir() if path.is_file()] == ["__init__.py"]


@pytest.mark.parametrize("floor", sorted(LEVEL))
def test_a_quick_run_tries_the_floor(floor: str):
    """`tests/run --quick` runs what is marked so."""
    assert any("mark.quick" in path.read_text(encoding="utf-8") for path in (Path(__file__).parent / floor).glob("test_*.py"))


@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_imports_point_down(module: Path):
    floor = module.relative_to(PACKAGE).parts[0]
    if floor == "__init__.py":
        assert imports_of(module) == set()
        return
    others = imports_of(module) - {floor}
    assert all(LEVEL[other] < LEVEL[floor] for other in others)
    assert others <= ONLY.get(floor, set(LEVEL))


@pytest.mark.parametrize("floor", sorted(LEVEL))
def test_floor_says_what_it_is_and_what_it_offers(floor: str):
    module = importlib.import_module(f"fxseq.{floor}")
    assert module.__doc__ and len(module.__doc__.split()) >= 10
    assert len(module.__all__) == len(set(module.__all__))
    assert all(hasattr(module, name) for name in module.__all__)


@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_only_rims_print_or_open(module: Path):
    """`print` and `open` belong to the rims: the command line, the link's ports, and the readers and writers of files."""
    rims = {"cli", "bench", "link"}
    named = {"clips/recording.py", "sequence/reading.py", "sequence/document.py", "sequence/writing.py"}
    where = module.relative_to(PACKAGE)
    if where.parts[0] in rims or str(where) in named:
        return
    calls = {node.func.id for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))) if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)}
    assert not calls & {"print", "open", "input"}
