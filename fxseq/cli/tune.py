"""fxseq tune."""

import textwrap
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from fxseq.cli.output import (
    Number,
    json_option,
    load_prop,
    output_folder,
    pictures_option,
    remark,
    result,
    sequence_argument,
    supply_option,
    table_text,
    theme_option,
    writable_folder,
)

if TYPE_CHECKING:
    from fxseq.advice import Break, Limit, TuneReport
    from fxseq.runs import Prop

_WIDTH = 140
_CONCERNS = len("the supply")
_DESPITE = (
    "Limit that you decide to break: flashes, light, sound, voices, clipping or saturation. Give it"
    " again for another. --write then writes it beside the rate."
)


@click.command()
@sequence_argument
@click.option("--trigger", metavar="NAME", help="Repeating trigger to tune. Default: the only one.")
@click.option(
    "--from",
    "low",
    type=Number(0.1, 50),
    default=1.0,
    show_default=True,
    help="Slowest rate, 0.1 to 50 shots a second.",
)
@click.option(
    "--to",
    "high",
    type=Number(0.1, 50),
    default=20.0,
    show_default=True,
    help="Fastest rate, 0.1 to 50 shots a second.",
)
@click.option(
    "--step",
    type=Number(0.01, 50),
    default=2.0,
    show_default=True,
    help=(
        "From one rate to the next, 0.01 to 50. Where a limit breaks is then found to 0.1 a second,"
        " or to a tenth of a smaller step."
    ),
)
@click.option("--despite", "despite", metavar="LIMIT", multiple=True, help=_DESPITE)
@click.option(
    "--write",
    is_flag=True,
    help="Write the fastest good rate, and what you decided, into the prop file.",
)
@supply_option
@click.option(
    "--out",
    type=click.Path(file_okay=False, path_type=Path),
    help="Folder for the figure. Default: NAME_tune in the current folder.",
)
@pictures_option
@theme_option
@json_option
def command(
    sequence: Path,
    trigger: str | None,
    low: float,
    high: float,
    step: float,
    despite: tuple[str, ...],
    write: bool,
    supply: str | None,
    out: Path | None,
    pictures: bool,
    theme: str,
    as_json: bool,
) -> None:
    """Find how fast a held trigger may repeat.

    It plays the held trigger at several rates. For each limit it tells the rate at which it breaks,
    what it protects (the eye, the ear, the sound, the supply, the parts) and what would let the
    trigger go faster. A table of all measurements follows. What is left to chance (random choices,
    spreads, flicker) is played in several draws. A limit counts as broken from the first rate at
    which any draw breaks it.
    """
    from fxseq.advice import hours_held, repeating_trigger, tune

    if high < low:
        raise click.UsageError(f"--to {high:g} is slower than --from {low:g}.")
    decided = _limits(despite)
    folder = writable_folder(out or Path(f"{sequence.stem}_tune"))
    prop = load_prop(sequence)
    name = repeating_trigger(prop, trigger)
    prop.supply(supply)
    report = tune(prop, name, _rates(low, high, step), supply, decided)
    figure = _draw(report, folder, theme) if pictures else None
    hours = hours_held(prop)
    values = {
        **report.as_dict(),
        "hours_held_a_day": hours,
        "figure": figure and str(figure),
    }
    texts = [answer(report, prop), _table(report, hours)]
    if figure:
        texts.append(f"Figure: {figure}")
    result("\n\n".join(texts), values, as_json)
    if write:
        _write(prop, report)


def _draw(report: "TuneReport", folder: Path, theme: str) -> Path:
    from fxseq.plots import save, tune_figure

    figure = output_folder(folder) / f"{report.trigger}.png"
    save(tune_figure(report, theme), figure)
    return figure


def _rates(low: float, high: float, step: float) -> list[float]:
    """Those of the sweep; the fastest is one of them in any case."""
    rates = [round(low + step * count, 6) for count in range(int((high - low) / step + 1e-9) + 1)]
    if high - rates[-1] < 1e-6:
        return rates
    return [*rates, high]


def _limits(names: Iterable[str]) -> "list[Limit]":
    """The limits of these names, each of which may be broken by decision."""
    from fxseq.advice import Limit
    from fxseq.sequence import did_you_mean

    known = {limit.text: limit for limit in Limit}
    allowed = [name for name, limit in known.items() if limit.may_be_decided]
    these = f"Allowed: {', '.join(allowed)}."
    for name in names:
        if name not in known:
            raise click.UsageError(
                f"--despite: there is no limit '{name}'. {did_you_mean(name, allowed) or these}"
            )
        if name not in allowed:
            raise click.UsageError(
                f"--despite {name}: this limit protects {known[name].concerns} and must not be"
                f" broken. {these}"
            )
    return [known[name] for name in names]


def answer(report: "TuneReport", prop: "Prop") -> str:
    """How fast it may go; then each limit that breaks, the slowest rate first; then those that
    are kept.
    """
    parts = [_verdict(report)]
    if report.breaks:
        names = max(len(each.limit.text) for each in report.breaks)
        parts.append("What breaks, from which rate up, and what the limit protects:")
        parts += [_break_text(each, names, report, prop) for each in report.breaks]
    if report.open_breaks and report.open_breaks[0].limit.may_be_decided:
        parts.append(
            "To go beyond the first one by your own decision: --despite"
            f" {report.open_breaks[0].limit.text}"
        )
    if report.kept:
        kept = (
            f"Not broken up to {report.points[-1].rate_per_s:g} a second:"
            f" {', '.join(limit.text for limit in report.kept)}."
        )
        parts.append(textwrap.fill(kept, _WIDTH))
    return "\n\n".join(parts)


def _verdict(report: "TuneReport") -> str:
    now = f"The file has {report.present_rate_per_s:g}."
    last_per_s = report.points[-1].rate_per_s
    decided = [each.limit.text for each in report.breaks if each.limit in report.despite]
    but = ""
    if decided:
        but = f" but {' and '.join(decided)}, as decided,"
    if report.fastest_per_s is None:
        return (
            f"'{report.trigger}' breaks a limit even at {report.points[0].rate_per_s:g} shots a"
            f" second. {now}"
        )
    if not report.open_breaks:
        return (
            f"'{report.trigger}' keeps every limit{but} up to {last_per_s:g} shots a second, the"
            f" fastest that was tried. {now}"
        )
    return (
        f"'{report.trigger}' keeps every limit{but} up to {report.fastest_per_s:g} shots a second."
        f" {now}"
    )


def _break_text(each: "Break", names: int, report: "TuneReport", prop: "Prop") -> str:
    """From which rate on, which limit, whom it concerns and what breaks; below that, what would
    move it.
    """
    head = (
        f"{each.rate_per_s:>6g}  {each.limit.text:<{names}}  {each.limit.concerns:<{_CONCERNS}}  "
    )
    lines = [
        each.limit.value + " (decided)" * (each.limit in report.despite),
        *_more(each.limit, report, prop),
    ]
    first, *others = (
        wrapped
        for line in lines
        for wrapped in textwrap.wrap(line, _WIDTH - len(head), break_on_hyphens=False)
    )
    return "\n".join([head + first, *(" " * len(head) + line for line in others)])


def _more(limit: "Limit", report: "TuneReport", prop: "Prop") -> list[str]:
    from fxseq.advice import Limit, exempt_area_of
    from fxseq.checks import FLASH_NOTICE

    to_move = f"To go faster: {limit.remedy}"
    if limit is not Limit.FLASHES:
        return [to_move]
    lines = [f"{exempt_area_of(prop, report.trigger)}.", to_move]
    if limit in report.despite:
        lines.append(f"Even so: {FLASH_NOTICE}")
    return lines


def _table(report: "TuneReport", hours: float) -> str:
    columns = {
        ("shots", "/s"): lambda point: f"{point.rate_per_s:g}",
        ("LAeq", "dB"): lambda point: _number(point.laeq_db, ".1f"),
        ("LAFmax", "dB"): lambda point: _number(point.lafmax_db, ".1f"),
        ("day", "dB"): lambda point: _number(point.day_dba, ".1f"),
        ("dose", "%"): lambda point: _number(point.dose_percent, ".2g"),
        (
            "clipped",
            "%",
        ): lambda point: f"{100 * max(point.clipped_share, point.saturated_share):.2f}",
        ("cut", "sounds"): lambda point: str(point.cut_sounds),
        ("light", "falls"): lambda point: _number(point.light_fall, ".2f"),
        ("sound", "falls dB"): lambda point: _number(point.sound_fall_db, ".1f"),
        ("flashes", "/s"): lambda point: f"{point.flashes_per_s:g}",
        ("mean", "mA"): lambda point: f"{point.mean_ma:.0f}",
        ("peak", "mA"): lambda point: f"{point.peak_ma:.0f}",
        ("lowest", "V"): lambda point: _number(point.lowest_v, ".2f"),
        ("speaker", "W"): lambda point: _number(point.speaker_w, ".2f"),
        ("cone", "mm"): lambda point: _number(point.excursion_mm, ".2f"),
        ("resistor", "W"): lambda point: _number(point.resistor_w, ".2f"),
        ("breaks", ""): lambda point: ", ".join(limit.text for limit in point.broken) or "-",
    }
    names, units = zip(*columns, strict=True)
    rows = [list(units), *([write(point) for write in columns.values()] for point in report.points)]
    notes = [
        f"day: level averaged over eight hours, for {hours:.3g} h a day of holding, with its"
        " uncertainty added. dose: share of the dose that NIOSH allows a day, without it."
    ]
    if report.draws > 1:
        notes.append(
            f"Limits are judged by {report.draws} random draws. The table shows one of them."
        )
    return "\n".join([table_text(list(names), rows), "", *notes])


def _number(value: float | None, form: str) -> str:
    if value is None:
        return "-"
    return format(value, form)


def _write(prop: "Prop", report: "TuneReport") -> None:
    """Write the fastest good rate, and the decisions that it needs. That the sweep ends is no
    reason to be slower.
    """
    from fxseq.sequence import Document, Fault, FxError

    fastest = report.fastest_per_s
    present = report.present_rate_per_s
    if fastest is None:
        raise FxError(
            Fault(str(prop.path), "there is no good rate to write", remedy="Nothing was changed.")
        )
    rate = fastest
    if not report.open_breaks:
        rate = max(fastest, present)
    decided = list(prop.sequence.triggers[report.trigger].despite)
    needed = [
        each.limit.text
        for each in report.breaks
        if each.limit in report.despite and each.rate_per_s <= rate
    ]
    document = Document.read(prop.path)
    where = f"{prop.path}: triggers.{report.trigger}"
    if rate == present:
        remark(f"{where}.rate_per_s stays {present:g}")
    else:
        document.set(("triggers", report.trigger, "rate_per_s"), rate)
        remark(f"{where}.rate_per_s = {rate:g} (was {present:g})")
    if set(needed) - set(decided):
        decided += [name for name in needed if name not in decided]
        document.set(("triggers", report.trigger, "despite"), decided)
        remark(f"{where}.despite = {', '.join(decided)}: your decision; findings will name it")
    document.write()
