"""fxseq firmware."""

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from fxseq.cli.output import json_option, output_folder, remark, result, table_text, writable_folder

if TYPE_CHECKING:
    from fxseq.firmware import Image
    from fxseq.sequence.board_parts import Programmed

_WAIT_S = 120.0


@click.command()
@click.argument("board", metavar="[BOARD]", required=False)
@click.option("--install", is_flag=True, help="Put the program onto the board that is plugged in.")
@click.option(
    "--out",
    type=click.Path(file_okay=False, path_type=Path),
    default=Path(),
    help="Folder for the file. Default: this one.",
)
@click.option(
    "--programmer",
    default="usbasp",
    show_default=True,
    metavar="NAME[:PORT]",
    help="Programmer for boards that need one, as avrdude calls it.",
)
@json_option
def command(board: str | None, install: bool, out: Path, programmer: str, as_json: bool) -> None:
    """List the ready-made boards, or give one its program.

    Without BOARD, the boards and what each can do. With one, its program as a file, or with
    --install on the board itself.
    """
    from fxseq.firmware import images

    known = images()
    if board is None:
        if install:
            raise click.UsageError(f"Say which board: {', '.join(known)}.")
        result(_list_text(known), [_values(image) for image in known.values()], as_json)
        return
    if board not in known:
        raise click.UsageError(f"There is no board '{board}'. There are: {', '.join(known)}.")
    if install:
        _install(known[board], programmer)
    else:
        _write(known[board], out, as_json)


def _list_text(known: "dict[str, Image]") -> str:
    rows = [
        [
            name,
            str(image.part.most["channels"]),
            str(image.part.most["voices"]),
            f"{image.part.keys['flash_for_table_bytes'] / 1024:.3g} KB",
            image.part.price,
            image.part.title,
        ]
        for name, image in known.items()
    ]
    head = ["board", "outputs", "voices", "table", "costs", "what it is"]
    return (
        f"{table_text(head, rows)}\n\nName it in the prop file: [board] part ="
        f' "{next(iter(known))}". `fxseq firmware BOARD --install` puts the program onto it.'
    )


def _values(image: "Image") -> dict[str, Any]:
    return {
        "board": image.board,
        "title": image.part.title,
        "file": image.file,
        "bytes": len(image.data),
        "sha256": image.sha256,
        "most": image.part.most,
        "flash_for_table_bytes": image.part.keys["flash_for_table_bytes"],
    }


def _write(image: "Image", out: Path, as_json: bool) -> None:
    from fxseq.sequence.writing import write_whole

    path = writable_folder(out) / image.file
    output_folder(out)
    write_whole(path, image.data)
    text = (
        f"{path}: the program of the {image.board}, {len(image.data)} bytes.\nSHA-256"
        f" {image.sha256}"
    )
    result(text, {**_values(image), "path": str(path)}, as_json)


def _install(image: "Image", programmer: str) -> None:
    if image.part.programmed:
        _program(image, image.part.programmed, programmer)
    else:
        _copy(image)


def _program(image: "Image", chip: "Programmed", programmer: str) -> None:
    """With all that is lost by it said before."""
    from fxseq.firmware import carry_out, steps

    remark(
        f"The program of the {image.board} takes the place of whatever is on the chip, its boot"
        " loader too: from now on new programs come from a programmer only.\nThe chip is erased:"
        " a table that is on it is lost. Push it again afterwards.\nTake the board out of the prop;"
        f" plug the programmer ({programmer}) onto its six pins and into the computer."
    )
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / image.file
        file.write_bytes(image.data)
        for number, (what, step) in enumerate(steps(chip, programmer, file), 1):
            remark(f"{number}. {what}: {' '.join(step)}")
            carry_out(step)
    result(
        f"The {image.board} has its program, and no table yet. Unplug the programmer, plug in"
        " USB. Next: fxseq push FILE",
        {},
        False,
    )


def _copy(image: "Image") -> None:
    from fxseq.firmware import boot_drives, copy_to, wait_for_drive
    from fxseq.sequence import Fault, LinkError

    chip = image.part.boot_drive
    is_there = any(drive.chip == chip for drive in boot_drives())
    if not is_there and not _asked(image):
        remark(
            f"1. Unplug the {image.board}. Hold its button marked BOOTSEL, plug it into USB, and"
            " let go.\n   It then shows itself as a small drive. Waiting for that."
        )
    drive = wait_for_drive(chip, _WAIT_S)
    if drive is None:
        raise LinkError(
            Fault(
                f"the {image.board}",
                f"no drive of a board that waits for its program came within {_WAIT_S:.0f} s",
                "",
                "Try another USB cable: many carry no data. Hold the button before the plug goes"
                " in. If your system asks, open the drive once in its file window.",
            )
        )
    remark(f"2. Copying {image.file} to {drive.path}. Leave the cable in.")
    copy_to(drive, image.file, image.data)
    result(
        f"The {image.board} has its program and has started. Its table, if it had one, is still"
        " there. Next: fxseq push FILE",
        {},
        False,
    )


def _asked(image: "Image") -> bool:
    """Whether a board that has its program already has been asked to take a new one."""
    from fxseq.link import enter_boot_loader, list_ports, open_port
    from fxseq.sequence import LinkError

    name = f"fxseq {image.board}"
    ports = [port for port in list_ports() if port.usb and port.description.startswith(name)]
    if len(ports) != 1:
        return False
    remark(f"1. The {image.board} on {ports[0].device} is to wait for a program.")
    try:
        with open_port(ports[0].device) as line:
            enter_boot_loader(line)
    except LinkError as error:
        remark(f"   It does not: {error}")
        return False
    return True
