"""fxseq clips --for-speaker."""

from pathlib import Path
from typing import TYPE_CHECKING

from fxseq.cli.output import output_folder, remark, result, table_text
from fxseq.sequence.quantities import amount, number

if TYPE_CHECKING:
    from fxseq.acoustics import Reach
    from fxseq.advice import Alone, Recommendation, Rig
    from fxseq.sequence import Sequence

SPEAKER_FIGURE = "the-speaker.png"
"""No clip has a hyphen in its name."""

Found = dict[str, "Recommendation | None"]


def show(
    path: Path,
    sequence: "Sequence",
    names: list[str],
    supply: str | None,
    write: bool,
    folder: Path,
    theme: str | None,
    as_json: bool,
) -> None:
    """Recommend for the clips of these names, and write figures and sounds; into the prop file too
    where that is asked for.

    theme: of the figures; None for no figures.
    """
    from fxseq.advice import recommend, rig_of

    rig = rig_of(path, sequence, supply)
    found = recommend(names, rig)
    alone = rig.reach()
    output_folder(folder)
    if theme:
        from fxseq.plots import save, speaker_figure

        save(speaker_figure(alone, rig, _speaker(alone, rig), theme), folder / SPEAKER_FIGURE)
    for name, each in found.items():
        if each is not None:
            _draw(folder, name, each, rig, theme)
    values = {name: each and each.as_dict() for name, each in found.items()}
    if theme:
        files = "Figure of the speaker, and figure, before.wav and after.wav of each clip"
    else:
        files = "Before.wav and after.wav of each clip"
    result(
        "\n".join([_text(found, rig), *_speaker(alone, rig), f"{files}: {folder}"]),
        {
            "supply": rig.supply_name,
            "speaker": alone.as_dict(),
            "clips": values,
            "folder": str(folder),
        },
        as_json,
    )
    if write:
        _write(path, found)


def _draw(folder: Path, name: str, each: "Recommendation", rig: "Rig", theme: str | None) -> None:
    from fxseq.cli.sound import write_wav

    if theme:
        from fxseq.plots import for_speaker_figure, save

        save(for_speaker_figure(each, rig, theme), folder / f"{name}.png")
    for when, alone in (("before", each.before), ("after", each.after)):
        write_wav(folder / f"{name}_{when}.wav", alone.samples, rig.sequence.board.sample_rate_hz)


def _text(found: Found, rig: "Rig") -> str:
    from fxseq.advice.for_speaker import LIMITED_BY

    head = [
        "clip", "", "high-pass Hz", "gain dB", "limit dBFS", "LAeq dB", "± dB", "cone mm",
        "W, hottest s", "clipped %", "turned down dB", "bytes", "limited by",
    ]  # fmt: skip
    rows = [
        row
        for name, each in found.items()
        if each
        for row in (
            [name, "before", *_row(each.before), ""],
            ["", "after", *_row(each.after), each.limited_by],
        )
    ]
    lines = [
        table_text(head, rows),
        "",
        *(
            f"{name}: silence, so there is nothing to recommend."
            for name, each in found.items()
            if each is None
        ),
    ]
    bound = {each.limited_by: LIMITED_BY[each.limited_by] for each in found.values() if each}
    lines += [f"Limited by {key}: with more, {words}." for key, words in bound.items()]
    lines.append(
        f"Each clip alone, at the loudest that a timeline plays it, from '{rig.supply_name}' with"
        f" {rig.supply_v:.1f} V left when all is on, {100 * rig.sequence.listening.hand_m:g} cm"
        " away. Clips that play together add up: see `fxseq check`."
    )
    if rig.speaker.excursion_mm is None:
        lines.append("The speaker has no excursion_mm, so cone excursion is not limited.")
    return "\n".join(lines)


def _speaker(found: "Reach", rig: "Rig") -> list[str]:
    """What is to be known of the speaker alone, a line each."""
    loudest = found.as_dict()
    distorted = ""
    if found.thd_percent:
        distorted = f", and full scale has {amount(found.thd_percent, '%', 2)} of distortion"
    peak = "" if rig.speaker.q_mechanical else " (a guess, since q_mechanical is missing)"
    return [
        (
            f"Speaker: the loudest lasting tone is {loudest['loudest_db']:.0f}"
            f" ±{rig.tone_uncertainty_db:.0f} dB at {number(loudest['loudest_hz'])} Hz,"
            f" {100 * rig.sequence.listening.hand_m:g} cm away, limited by"
            f" {loudest['loudest_held_by']}; the amplifier clips at"
            f" {amount(found.clipping_w, 'W', 2)}{distorted}. 1 W makes {found.flat_db:.0f} dB at 1"
            f" m above resonance; {amount(100 * found.efficiency, '%', 2)} of it becomes sound, the"
            " rest heat."
        ),
        (
            f"Its resonance in the prop is {amount(found.resonance_hz, 'Hz')}, with an impedance of"
            f" {amount(found.resonance_ohm, 'ohm')}{peak}; elsewhere it has"
            f" {amount(loudest['least_ohm'], 'ohm')} or more. If you measure the peak at another"
            " frequency, the chamber has another size or leaks."
        ),
    ]


def _row(alone: "Alone") -> list[str]:
    clip = alone.clip
    levels = alone.levels
    settings = [
        "-" if value is None else f"{value:g}"
        for value in (clip.high_pass_hz, clip.gain_db, clip.limit_to_dbfs)
    ]
    return [
        *settings,
        alone.said_laeq,
        f"{levels.uncertainty_db:.1f}",
        f"{levels.excursion_peak_mm:.3f}",
        f"{levels.speaker_highest_power_w:.3f}",
        f"{100 * alone.clipped_share:.2f}",
        f"{alone.prepared.conditioning.limited_db:.1f}",
        str(len(alone.prepared.data)),
    ]


def _write(path: Path, found: Found) -> None:
    from fxseq.sequence import Document

    document = Document.read(path)
    for name, each in found.items():
        if each is None:
            continue
        for key, value in each.changes.items():
            document.set(("clips", name, key), value)
            remark(f"{path}: clips.{name}.{key} = {value:g}")
    document.write()
