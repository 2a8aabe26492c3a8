"""Common parts to choose from: each stands in the file as one would write it, and takes the place
of another without what belongs to the prop.
"""

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from fxseq.bench import Desk
from fxseq.bench.common_parts import common_parts
from fxseq.bench.things import carry_out, parts_view

CASES = [(kind, turn) for kind, known in common_parts().items() for turn in range(len(known))]
NAMES = {"supplies": "cells"}
MADE = """
[speaker]                     # behind the vent
diameter_mm = 28              # measured
impedance_ohm = 8
resonance_hz = 800
q_total = 1.1
sensitivity_db = 88
rated_power_w = 1.0
grille = { holes = 20, hole_mm = 2, thickness_mm = 1 } # of the handle

[supplies.cells]
kind = "cells"
voltage_v = 4.5               # three of them
maximum_current_ma = 500
fuse_ma = 750                 # in the holder
"""


def small_prop(folder: Path) -> Path:
    """The smallest prop of the demos, in a folder of its own."""
    demo = Path(__file__).parents[2] / "demo_assets"
    (folder / "clips").mkdir(parents=True)
    shutil.copy(demo / "clips" / "crack_a.wav", folder / "clips")
    return Path(shutil.copy(demo / "first_light.toml", folder))


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Desk:
    return Desk(small_prop(tmp_path_factory.mktemp("common") / "prop"))


@pytest.fixture
def described(tmp_path: Path) -> Iterator[Desk]:
    file = small_prop(tmp_path / "prop")
    file.write_text(file.read_text(encoding="utf-8") + MADE, encoding="utf-8")
    yield Desk(file)


def order(desk: Desk, **body: Any) -> Desk:
    carry_out(body, desk)
    return desk


@pytest.mark.parametrize(("kind", "turn"), CASES)
def test_every_common_part_is_taken_and_known_again(desk: Desk, kind: str, turn: int) -> None:
    name = NAMES.get(kind, "")
    before = desk.now.text
    is_there = kind == "board"
    order(desk, do="take" if is_there else "add", kind=kind, name=name, common=turn)
    view = parts_view(desk.now)
    found = view["common"][kind]
    assert (found[name] if name else found) == turn
    said = view["values"][kind][name] if name else view["values"][kind]
    assert said == common_parts()[kind][turn].given
    if desk.now.text != before:
        desk.undo()
    assert desk.now.text == before


def test_what_belongs_to_the_prop_stays_with_its_remarks(described: Desk) -> None:
    assert parts_view(described.now)["common"]["speaker"] is None
    order(described, do="take", kind="speaker", common=0)
    order(described, do="take", kind="supplies", name="cells", common=1)
    text = described.now.text
    values = parts_view(described.now)["values"]
    grille = {"holes": 20, "hole_mm": 2, "thickness_mm": 1}
    assert values["speaker"] == {"grille": grille, "part": "28 mm, 8 ohm"}
    cells = {"kind": "cells", "fuse_ma": 750, "cell": "alkaline_aa", "cells_in_series": 4}
    assert values["supplies"]["cells"] == cells
    for remark in (
        "behind the vent",
        "measured",
        "of the handle",
        "three of them",
        "in the holder",
    ):
        assert f"# {remark}\n" in text
    described.undo()
    described.undo()
    assert described.now.text.endswith(MADE)


@pytest.mark.parametrize("turn", [-1, 99, "0", True, None])
def test_a_turn_that_there_is_not_is_refused(desk: Desk, turn: object) -> None:
    with pytest.raises(Exception, match="no turn among the common parts"):
        order(desk, do="add", kind="speaker", common=turn)
