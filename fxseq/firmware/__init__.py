"""The programs of ready-made boards: what is in the package, and putting one onto its board.

May import `sequence`. Only `drives` and `programmer` touch what is plugged in. The images are built
from `firmware_spec/ports`, to the byte.
"""

from fxseq.firmware.drives import BootDrive, boot_drives, copy_to, wait_for_drive
from fxseq.firmware.images import Image, images
from fxseq.firmware.programmer import carry_out, steps

__all__ = [
    "BootDrive", "Image", "boot_drives", "carry_out", "copy_to", "images", "steps",
    "wait_for_drive",
]  # fmt: skip
