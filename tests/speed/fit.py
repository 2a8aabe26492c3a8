"""What `fxseq fit` promises against what is there: both demos and recordings of Debian's package,
each at three sizes.

    .venv/bin/python tests/speed/fit.py [--clips 10]

Needs Debian's sonic-pi-samples. All in dB by which the loss sounds softer than the sound. Promised:
as `fit` says it. There: the fitted file loaded and played, against the same presses with every clip
uncut, in 16 bits and at the board's rate, both through the amplifier and speaker of `acoustics` in
time and the ear's model written a second time. Foreseen: by the sum of what each clip loses by
itself, by which the choice is made; together clips hide more. The recordings differ in how they are
played: shots that are cut short by the next ones and vary in pitch, levels and limiters, loops that
are held.
"""

import argparse
import shutil
import sys
import tempfile
import time
from pathlib import Path

import soundfile

from fxseq.advice import Fit, NothingFits, as_meant, fit
from fxseq.runs import perform
from fxseq.sequence import load

TESTS = Path(__file__).parents[1]
sys.path += [str(TESTS / "clips"), str(TESTS / "fit")]
from heard import measured_db, written  # noqa: E402
from real_sounds import recordings  # noqa: E402

DEMO = TESTS.parent / "demo_assets"
SHARES = (0.08, 0.2, 0.45)
"""Of the table with all clips whole and in 16 bits."""
HEAD = """
format = 1
title = "Recording"
[board]
channels = 1
voices = 2
[amplifier]
gain_db = 10
full_scale_input_v = 1.2
[speaker]
diameter_mm = 28
impedance_ohm = 8
resonance_hz = 800
sensitivity_db = 88
rated_power_w = 1
[inputs.lever]
"""
SHOTS = """
[effects.shot]
sounds = [{ clip = "sound", gain_db = -3 }]
pitch_spread_percent = 5
gain_spread_percent = 20
[triggers.shot]
mode = "repeat"
input = "lever"
rate_per_s = 6
effects = ["shot"]
[scripts.run]
presses = "hold lever @0.2..1, tap lever @2"
"""
HELD = """
[effects.held]
sounds = [{ clip = "sound", gain_db = -6, loop = true, release_ms = 200 }]
[triggers.held]
mode = "while_held"
input = "lever"
during = "held"
[scripts.run]
presses = "hold lever @0.2..4"
"""
SETTINGS = (
    ("rms_to_dbfs = -16\nlimit_to_dbfs = -1", SHOTS),
    ('loop = "find"\npeak_to_dbfs = -3', HELD),
    ("trim_below_dbfs = -50\nfade_out_ms = 20", SHOTS),
    ("loop = { start_ms = 150 }", HELD),
    ("gain_db = 6\nlimit_to_dbfs = -3", SHOTS),
)


def prop_files(folder: Path, clips: int) -> list[Path]:
    """Copies of the demos, and a prop for each recording."""
    shutil.copytree(DEMO, folder, dirs_exist_ok=True)
    files = [folder / "first_light.toml", folder / "squall_lantern.toml"]
    for number, (name, samples) in enumerate(recordings(clips, 22050, 1.5)):
        soundfile.write(folder / f"{name}.wav", samples, 22050)
        settings, played = SETTINGS[number % len(SETTINGS)]
        path = folder / f"{name}.toml"
        path.write_text(
            f'{HEAD}[clips.sound]\nfile = "{name}.wav"\n{settings}\n{played}', encoding="utf-8"
        )
        files.append(path)
    return files


def row(path: Path, fitted: Fit, room: int) -> str:
    """A line of the table."""
    try:
        picked = fitted.best(room)
    except NothingFits as error:
        return f"{path.stem:24}{room:8}  {error.missing} bytes are missing"
    outcome = fitted.outcome(fitted.prop_with(picked))
    foreseen_db = fitted.foreseen_below_sound_db(picked)
    chosen = {name: fitted.settings(each) for name, each in picked.items()}
    values = {
        name: settings and settings.model_dump(exclude_defaults=True)
        for name, settings in chosen.items()
    }
    there_db = measured_db(path, written(path, values, f"{path.stem}_{room}.toml"))
    difference_db = 0.0 if there_db == outcome.below_sound_db else there_db - outcome.below_sound_db
    return f"{path.stem:24}{room:8}{outcome.table_bytes:8}{foreseen_db:10.2f}{outcome.below_sound_db:10.2f}{there_db:10.2f}{difference_db:8.2f}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--clips", type=int, default=10)
    options = parser.parse_args()
    print(
        f"{'':24}{'room':>8}{'bytes':>8}{'foreseen':>10}{'promised':>10}{'there':>10}{'off dB':>8}"
    )
    with tempfile.TemporaryDirectory() as name:
        for path in prop_files(Path(name), options.clips):
            started = time.perf_counter()
            sequence = load(path)
            prop = as_meant(path, sequence)
            fitted = fit(perform(prop, prop.script()[0]), sequence.board.codings)
            seconds = time.perf_counter() - started
            for share in SHARES:
                print(row(path, fitted, round(share * len(prop.compiled.data))), flush=True)
            print(f"{'':24}tried in {seconds:.0f} s", flush=True)


if __name__ == "__main__":
    main()
