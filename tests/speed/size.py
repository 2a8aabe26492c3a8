"""How large tables are, against the same content in MessagePack.

    .venv/bin/python tests/speed/size.py

The MessagePack rival holds the same records without clip data, once with field names and once as
bare lists (its own best case).
"""

from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

import msgpack

from fxseq.runs import load_prop

DEMOS = Path(__file__).parent.parent.parent / "demo_assets"


def named(value: Any) -> Any:
    """Records as maps of field names, without clip data."""
    if is_dataclass(value):
        return {
            field.name: named(getattr(value, field.name))
            for field in fields(value)
            if field.name != "data"
        }
    return [named(item) for item in value] if isinstance(value, tuple) else value


def bare(value: Any) -> Any:
    """Records as lists, without clip data."""
    if is_dataclass(value):
        return [bare(getattr(value, field.name)) for field in fields(value) if field.name != "data"]
    return [bare(item) for item in value] if isinstance(value, tuple) else value


def main() -> None:
    for path in sorted(DEMOS.glob("*.toml")):
        compiled = load_prop(path).compiled
        ours = len(compiled.data) - sum(
            len(data) for data in {clip.data for clip in compiled.table.clips}
        )
        for kind, content in (("named", named(compiled.table)), ("bare", bare(compiled.table))):
            theirs = len(msgpack.packb(content))
            print(
                f"{path.stem}: {ours} bytes without clip data; MessagePack, {kind}: {theirs} bytes;"
                f" ratio {ours / theirs:.3f}"
            )


if __name__ == "__main__":
    main()
