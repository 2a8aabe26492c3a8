"""The plain reader and the generated tables are those of tests/conformance, generated prop files
those of tests/sequence; modules of this folder are found by name too.
"""

import sys
from pathlib import Path

FOLDER = Path(__file__).parent
sys.path[:0] = [str(FOLDER), *(str(FOLDER.parent / name) for name in ("conformance", "sequence"))]
