"""The programs of ready-made boards: what is in the package, and putting one onto its board.

May import `sequence`. Only `drives` and `programmer` touch what is plugged in. The images are built
from `firmware_spec/ports`, to the byte.
"""

from fxseq.firmware.drives import BootDrive, boot_drives, copy_to, wait_for_drive
from fxseq.firmware.images import Image, images

__all__ = ["BootDrive", "Image", "boot_drives", "copy_to", "images", "wait_for_drive"]
