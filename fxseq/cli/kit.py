"""fxseq kit."""

import hashlib
import os
import shutil
from dataclasses import asdict
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

import click

from fxseq.cli.output import (
    free_folder,
    json_option,
    load_prop,
    output_folder,
    papers_options,
    remark,
    result,
    sequence_argument,
)
from fxseq.cli.papers import logo_of

if TYPE_CHECKING:
    from fxseq.runs import Prop

Files = dict[str, bytes]
"""What lies in the kit, by path within it."""
_SUMS = "SHA256SUMS"
_READ_ME = "READ_ME.txt"


@click.command()
@sequence_argument
@click.option(
    "--out",
    type=click.Path(file_okay=False, path_type=Path),
    help="Folder for the kit, which must not be there yet. Default: NAME_kit.",
)
@papers_options
@json_option
def command(sequence: Path, out: Path | None, props: int, paper: str, as_json: bool) -> None:
    """Gather all that is handed over: papers, table, program, page, prop file and sounds.

    The folder needs nothing else: the prop file in it finds its sounds, the page plays offline.
    SHA256SUMS has a checksum of each file (`sha256sum -c SHA256SUMS`). The same prop gives the same
    bytes.
    """
    from fxseq.papers import mark_of, paper_files
    from fxseq.runs import perform

    folder = free_folder(out or Path(f"{sequence.stem}_kit"))
    prop = load_prop(sequence)
    logo = logo_of(prop)
    own = _prop_files(prop)
    run = perform(prop, prop.script()[0])
    papers = paper_files(run, props, paper, logo)
    files: Files = {**{f"papers/{name}": data for name, data in papers.items()}, **own}
    files |= _table_files(prop)
    files |= _program(prop)
    files[f"{sequence.stem}.html"] = _page(own, sequence.name)
    files["SOUNDS.txt"] = _sounds(prop).encode()
    files[_READ_ME] = _read_me(prop, mark_of(run), [_READ_ME, *sorted(files)]).encode()
    files[_SUMS] = _sums(files).encode()
    _write(folder, files)
    unsaid = [name for name, clip in prop.sequence.clips.items() if clip.source is None]
    if unsaid:
        remark(f"Where these sounds come from is not said (source): {', '.join(unsaid)}.")
    size = sum(map(len, files.values()))
    text = f"{folder}: {len(files)} files, {size / 1e6:.1f} MB, {mark_of(run)}."
    values = {"folder": str(folder), "mark": mark_of(run), "files": sorted(files), "unsaid": unsaid}
    result(text, values, as_json)


def _prop_files(prop: "Prop") -> Files:
    """The prop file, its sounds and its picture. What lay elsewhere lies beside it now, and the
    file says so.
    """
    from fxseq.sequence.edits import set_value
    from fxseq.sequence.reading import decode, read_bytes

    text = decode(read_bytes(prop.path), str(prop.path))
    files: Files = {}
    used: list[tuple[tuple[str, ...], str]] = [
        (("clips", name, "file"), clip.file) for name, clip in prop.sequence.clips.items()
    ]
    picture, maker = prop.sequence.picture, prop.sequence.maker
    if picture and picture.image:
        used.append((("picture", "image"), picture.image))
    if maker and maker.logo:
        used.append((("maker", "logo"), maker.logo))
    for path, said in used:
        place, data = _within(prop.path.parent, said, path[1])
        files[place] = data
        if place != said:
            text = set_value(text, path, place)
    return {prop.path.name: text.encode(), **files}


def _within(folder: Path, said: str, name: str) -> tuple[str, bytes]:
    """Where a file lies in the kit, and what is in it. Raises OutputError."""
    from fxseq.sequence import Fault, OutputError

    found = (folder / said).resolve()
    try:
        data = found.read_bytes()
    except OSError as error:
        raise OutputError(Fault(str(found), f"cannot be read ({error.strerror})")) from None
    home = folder.resolve()
    if found.is_relative_to(home) and not Path(said).is_absolute():
        return found.relative_to(home).as_posix(), data
    return f"clips/{name}{found.suffix}", data


def _table_files(prop: "Prop") -> Files:
    from fxseq.table import intel_hex

    data = prop.compiled.data
    stem = f"table/{prop.path.stem}"
    return {f"{stem}.bin": data, f"{stem}.hex": intel_hex(data, 0).encode()}


def _program(prop: "Prop") -> Files:
    """The board's program with its licences."""
    from fxseq.firmware import images

    part = prop.sequence.board.part
    if part is None:
        return {}
    image = images()[part]
    return {f"program/{image.file}": image.data, "program/LICENCES.txt": image.licences.encode()}


def _page(files: Files, name: str) -> bytes:
    """The page that plays without anything else, with how fast each trigger may repeat. It is made
    of the prop as it lies in the kit, of which the page tells.
    """
    from fxseq.bench.desk import Version
    from fxseq.bench.export import export_page
    from fxseq.bench.numbers import key_numbers, rates

    with TemporaryDirectory() as folder:
        for place, data in files.items():
            path = output_folder((Path(folder) / place).parent) / Path(place).name
            path.write_bytes(data)
        prop = load_prop(Path(folder) / name)
        version = Version(1, files[name].decode(), prop)
        numbers: dict[str, Any] = {
            **key_numbers(version),
            "rates_known": True,
            "rates": [asdict(rate) for rate in rates(prop)],
        }
        return export_page(version, numbers)


def _sounds(prop: "Prop") -> str:
    rows = [f"{name}: {clip.source or 'not said'}" for name, clip in prop.sequence.clips.items()]
    return "\n".join(["Where the sounds come from, as the prop file says:", "", *rows, ""])


def _read_me(prop: "Prop", mark: str, files: list[str]) -> str:
    from fxseq.checks import CODES

    stem = prop.path.stem
    told = {
        _READ_ME: "what you read",
        "papers/": "begin here: build.pdf to build it, user.pdf for its user, venue.pdf for venues",
        f"{prop.path.name}": f"the prop itself: `fxseq push {prop.path.name}` sends it to a board",
        f"{stem}.html": "open it in a browser: it plays, and shows what each press does",
        "table/": "what the board plays, as binary and as Intel HEX",
        "program/": "what makes the board play it, with its licences",
        "SOUNDS.txt": "where the sounds come from",
        _SUMS: "checksums: `sha256sum -c SHA256SUMS` shows whether all is whole",
    }
    there = [_in_kit(file) for file in (*files, _SUMS)]
    told |= {name: "belongs to the prop file" for name in there if name not in told}
    wide = max(map(len, told)) + 2
    rows = [f"  {name:<{wide}}{what}" for name, what in told.items() if name in there]
    maker = prop.sequence.maker
    made = [f"Made by {', '.join(filter(None, (maker.name, maker.contact)))}."] if maker else []
    return "\n".join([f"{prop.sequence.title}, {mark}", *made, "", *rows, "", CODES, ""])


def _in_kit(file: str) -> str:
    """The file, or the folder that it lies in."""
    folder, slash, _ = file.partition("/")
    return folder + slash


def _sums(files: Files) -> str:
    return "".join(
        f"{hashlib.sha256(data).hexdigest()}  {name}\n" for name, data in sorted(files.items())
    )


def _write(folder: Path, files: Files) -> None:
    """All of it or nothing."""
    beside = folder.with_name(f".{folder.name}.{os.getpid()}")
    try:
        for name, data in files.items():
            output_folder((beside / name).parent)
            (beside / name).write_bytes(data)
        beside.rename(folder)
    except OSError as error:
        from fxseq.sequence import Fault, OutputError

        raise OutputError(Fault(str(folder), f"cannot be written ({error.strerror})")) from None
    finally:
        shutil.rmtree(beside, ignore_errors=True)
