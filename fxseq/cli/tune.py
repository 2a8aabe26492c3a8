"""fxseq tune."""
from pathlib import Path
from typing import TYPE_CHECKING

import click

from fxseq.cli.output import json_option, load_prop, output_folder, remark, result, sequence_argument, supply_option, table_text, theme_option

if TYPE_CHECKING:
    from fxseq.tune import RatePoint, TuneReport

FINE_STEPS = 10


@click.command()
@sequence_argument
@click.option("--trigger", metavar="NAME", help="Repeating trigger to tune; the only one unless given.")
@click.option("--from", "low", type=click.FloatRange(0.1, 50), default=1.0, show_default=True, help="Slowest rate, shots a second.")
@click.option("--to", "high", type=click.FloatRange(0.1, 50), default=20.0, show_default=True, help="Fastest rate, shots a second.")
@click.option("--step", type=click.FloatRange(0.01, 50), default=1.0, show_default=True,
              help="From one rate to the next; the step in which a limit breaks is then divided by 10.")
@click.option("--write", is_flag=True, help="Write the fastest good rate into the prop file.")
@supply_option
@click.option("--out", type=click.Path(file_okay=False, path_type=Path),
              help="Folder for the figure; SEQUENCE_tune in the present folder unless given.")
@theme_option
@json_option
def command(sequence: Path, trigger: str | None, low: float, high: float, step: float, write: bool, supply: str | None, out: Path | None,
            theme: str, as_json: bool) -> None:
    """Find how fast a held trigger may repeat.

    Plays the trigger held at each rate, measures level, clipping, cut sounds, how far light and sound fall between shots, flashes, current,
    what is left of the supply's voltage, what the speaker gets, what ears get in a day and how much heat resistors make, and names the fastest
    rate at which every shot is distinct and no limit is broken.
    """
    from fxseq.plots import save, tune_figure
    from fxseq.tune import TuneReport, hours_held, limits_of, repeating_trigger

    if high < low:
        raise click.UsageError(f"--to {high:g} is slower than --from {low:g}.")
    prop = load_prop(sequence)
    name = repeating_trigger(prop, trigger)
    prop.supply(supply)
    points = _points(prop, name, low, high, step, supply)
    report = TuneReport(name, prop.sequence.triggers[name].rate_per_s or 0.0, tuple(points), limits_of(prop, supply))
    folder = output_folder(out or Path(f"{sequence.stem}_tune"))
    figure = folder / f"{name}.png"
    save(tune_figure(report, theme), figure)
    hours = hours_held(prop)
    result(_text(report, hours, figure), {**report.as_dict(), "hours_held_a_day": hours, "figure": str(figure)}, as_json)
    if write:
        _write(sequence, report)


def _points(prop: object, name: str, low: float, high: float, step: float, supply: str | None) -> list["RatePoint"]:
    """The rates asked for; then, between the last good one and the first that breaks a limit, ten times as fine."""
    from fxseq.tune import sweep

    rates = [round(low + step * count, 6) for count in range(int((high - low) / step + 1e-9) + 1)]
    points = []
    for point in sweep(prop, name, rates, supply):
        points.append(point)
        if len(points) % 5 == 0:
            remark(f"{point.rate_per_s:g} of {high:g} shots a second")
    broken = next((index for index, point in enumerate(points) if point.broken), 0)
    if broken:
        between = [round(points[broken - 1].rate_per_s + step * part / FINE_STEPS, 6) for part in range(1, FINE_STEPS)]
        points += list(sweep(prop, name, between, supply))
    return sorted(points, key=lambda point: point.rate_per_s)


def _text(report: "TuneReport", hours: float, figure: Path) -> str:
    columns = {
        ("shots", "/s"): lambda point: f"{point.rate_per_s:g}",
        ("LAeq", "dB"): lambda point: _number(point.laeq_db, ".1f"),
        ("LAFmax", "dB"): lambda point: _number(point.lafmax_db, ".1f"),
        ("day", "dB"): lambda point: _number(point.day_dba, ".1f"),
        ("dose", "%"): lambda point: _number(point.dose_percent, ".2g"),
        ("clipped", "%"): lambda point: f"{100 * max(point.clipped_share, point.saturated_share):.2f}",
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
        ("breaks", ""): lambda point: ", ".join(limit.name.lower() for limit in point.broken) or "-",
    }
    names, units = zip(*columns, strict=True)
    rows = [list(units), *([write(point) for write in columns.values()] for point in report.points)]
    day = (f"Day: level over eight hours for {hours:.3g} h a day of holding, what it may be off by added; dose: share of what NIOSH allows a day, "
           "without that.")
    return f"{table_text(list(names), rows)}\n\n{day}\n{verdict(report)}\nFigure: {figure}"


def _number(value: float | None, form: str) -> str:
    return "-" if value is None else format(value, form)


def verdict(report: "TuneReport") -> str:
    """The answer in a sentence or two."""
    why = "; ".join(limit.value for limit in report.binds)
    now = f"The file says {report.present_rate_per_s:g} a second."
    if report.fastest is None:
        return f"'{report.trigger}': even {report.points[0].rate_per_s:g} shots a second is too fast: {why}. {now}"
    if not report.binds:
        return f"'{report.trigger}': all rates up to {report.fastest.rate_per_s:g} shots a second are good. {now}"
    return f"'{report.trigger}': the fastest good rate is {report.fastest.rate_per_s:g} shots a second. What binds: {why}. {now}"


def _write(sequence: Path, report: "TuneReport") -> None:
    from fxseq.sequence import Document, Fault, FxError

    if report.fastest is None:
        raise FxError(Fault(str(sequence), "there is no good rate to write", remedy="Nothing was changed."))
    document = Document.read(sequence)
    document.set(("triggers", report.trigger, "rate_per_s"), report.fastest.rate_per_s)
    document.write()
    remark(f"{sequence}: triggers.{report.trigger}.rate_per_s = {report.fastest.rate_per_s:g} (was {report.present_rate_per_s:g})")
