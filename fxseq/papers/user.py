"""A card for whoever holds the prop, and a sheet for the venue and the client."""

from collections.abc import Iterator

from fxseq.checks import (
    ADAPTOR_CAUTION,
    CODES,
    EVERYDAY_SOURCE,
    FLASH_NOTICE,
    HEAT,
    LITHIUM_CAUTION,
    loud_in_words,
    run_time_text,
)
from fxseq.papers.document import Block, Items, Section, Table, Text
from fxseq.papers.presses import begun, pressed, said
from fxseq.power import Schedule
from fxseq.power.parts import CELL_NAMES
from fxseq.runs import Performance
from fxseq.sequence import Finding
from fxseq.sequence.derived import start_position
from fxseq.sequence.model import Maker, Sequence, Supply
from fxseq.sequence.quantities import amount
from fxseq.sequence.wording import series

_DRY_CELLS = (
    "All cells of one kind, one make and one age. Take them out before the prop is put away: they"
    " leak. Do not charge them."
)
_NIMH = (
    "All cells of one kind, one make and one age. Charge them out of the prop, in a charger that is"
    " made for them. Take them out before the prop is put away."
)
_CELLS = {"alkaline_aa": _DRY_CELLS, "alkaline_9v": _DRY_CELLS, "nimh_aa": _NIMH}
"""What is usual for each kind; common practice, no source. Lithium has a caution of its own."""
_EAR = "Keep the speaker away from ears: loud sound close to an ear harms it at once."
UNFED = "The prop file does not say what feeds the prop, so nothing is known of it here."
_TRADE = "a sheet from the maker's own reckoning, no certificate"


def user_sections(run: Performance, found: list[Finding]) -> Iterator[Section]:
    """What it does, what it runs from, how to treat it."""
    sequence = run.prop.sequence
    yield Section("What it does", tuple(_controls(sequence)))
    yield Section("What it runs from", tuple(_supplies(run)))
    yield Section("Cautions", (Items(tuple(_user_cautions(sequence, found))),))
    if sequence.maker:
        yield Section("Help", (Text(f"{_reached(sequence.maker)}."),))


def _reached(maker: Maker) -> str:
    return f"{maker.name}, {maker.contact}" if maker.contact else maker.name


def _controls(sequence: Sequence) -> Iterator[Block]:
    for rows in pressed(sequence).values():
        yield Items(tuple(rows))
    for name, selector in sequence.selectors.items():
        positions = series([said(position) for position in selector.positions], "or")
        start = said(start_position(selector))
        yield Text(f"{begun(said(name))}: {positions}. At power-up without one: {start}.")
    if sequence.board.pins.volume is not None:
        yield Text("A knob sets the volume.")


def _supplies(run: Performance) -> Iterator[Block]:
    sequence = run.prop.sequence
    if not sequence.supplies:
        yield Text(UNFED)
        return
    rows = []
    for name, supply in sequence.supplies.items():
        rows.append(f"{begun(said(name))}: {_source(supply)}.")
        if supply.kind == "cells":
            rows.append(_CELLS.get(supply.cell or "", LITHIUM_CAUTION))
        else:
            rows.append(ADAPTOR_CAUTION)
    yield Items(tuple(rows))
    if run.run_time and run.supply:
        day = sequence.day
        hours = f" A day of use is reckoned as {amount(day.hours, 'h')}." if day else ""
        lasts = run_time_text(run.run_time).partition(";")[0]
        yield Text(f"On {said(run.supply[0])} it lasts {lasts}.{hours}")


def _source(supply: Supply) -> str:
    if supply.kind == "wall":
        volts = f" of {amount(supply.voltage_v, 'V')}" if supply.voltage_v else ""
        most = (
            f", {amount(supply.maximum_current_ma, 'mA')} or more"
            if supply.maximum_current_ma
            else ""
        )
        return f"a wall adaptor{volts}{most}"
    count = supply.cells_in_series * supply.cells_in_parallel
    return f"{count} × {CELL_NAMES.get(supply.cell, 'cells')}"


def _user_cautions(sequence: Sequence, found: list[Finding]) -> Iterator[str]:
    if _flashes(found):
        yield FLASH_NOTICE
    if sequence.speaker:
        yield _EAR
    yield "If it gets hot, smells, or has been wet: switch it off, take the cells out, and ask."
    yield CODES


def venue_sections(
    run: Performance, plan: Schedule | None, found: list[Finding]
) -> Iterator[Section]:
    """What a venue and a client want to know. plan: None without a supply."""
    maker = run.prop.sequence.maker
    asked = f" Questions: {_reached(maker)}." if maker else ""
    yield Section("What this is", (Text(f"{run.prop.sequence.title}: {_TRADE}.{asked}"),))
    yield Section("How loud", tuple(_loud(run)))
    yield Section("Flashing light", tuple(_flashing(run, found)))
    feeding = _feeding(plan) if plan else (Text(UNFED), Text(HEAT))
    yield Section("Heat and supply", tuple(feeding))
    yield Section("Limits of this sheet", (Text(CODES),))


def _loud(run: Performance) -> Iterator[Block]:
    levels = run.heard.levels
    if levels is None:
        yield Text("It has no speaker, or none is described.")
        return
    words = loud_in_words(levels)
    rows = tuple(
        (
            f"{said(name)}, {at.distance_m:g} m",
            f"{at.lafmax_db:.0f} dB",
            f"{at.laeq_db:.0f} dB",
            words.get(name, {}).get("like", "silent"),
            words.get(name, {}).get("harmless", ""),
        )
        for name, at in levels.at.items()
    )
    yield Table(("where", "loudest (LAFmax)", "mean (LAeq)", "which is", "for ears"), rows)
    yield Text(
        f"By reckoning, not measured: ±{levels.uncertainty_db:.0f} dB. For the presses of the"
        f" file, {run.duration_s:.0f} s. Sources: {EVERYDAY_SOURCE}."
    )


def _flashes(found: list[Finding]) -> list[Finding]:
    return [finding for finding in found if finding.check in ("light.flash", "light.red_flash")]


def _flashing(run: Performance, found: list[Finding]) -> Iterator[Block]:
    flashes = _flashes(found)
    if not flashes:
        yield Text(
            "In the presses that were played nothing flashes more than three times a second. No"
            " prop is safe for everybody just because it keeps that limit."
        )
        return
    yield Items(
        tuple(
            f"{begun(finding.subject)}: {finding.figure}. Limit: {finding.limit}. "
            + (
                f"Decided by the maker: {finding.decided}."
                if finding.decided
                else "Not decided on."
            )
            for finding in flashes
        )
    )
    yield Text(FLASH_NOTICE)


def _feeding(plan: Schedule) -> Iterator[Block]:
    rows = [
        f"{begun(said(name))}: {_source(supply)}"
        for name, supply in plan.sequence.supplies.items()
    ]
    most = max(line.total_ma for line in plan.lines)
    watts = max(line.total_ma * line.fresh_v for line in plan.lines) / 1000
    yield Items((*rows, f"With everything on at once {amount(most, 'mA')}, {watts:.1f} W."))
    if any(supply.cell == "li_ion" for supply in plan.sequence.supplies.values()):
        yield Text(LITHIUM_CAUTION)
    yield Text(HEAT)
