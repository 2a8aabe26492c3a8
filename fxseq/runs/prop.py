"""A sequence with its clips, compiled: all that is needed to play it."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import cached_property, partial
from pathlib import Path

from fxseq.acoustics import heard_response
from fxseq.clips import Draft, PreparedClip, draft
from fxseq.player import Script, default_script, parse_script
from fxseq.power import Circuit, circuits
from fxseq.runs.in_time import refuse_late
from fxseq.sequence import ClipError, Fault, FxError, TableError, did_you_mean, loads
from fxseq.sequence import model as m
from fxseq.sequence.reading import decode, read_bytes
from fxseq.table import Compiled, PlayClip, clips_in_reach, compile_sequence

Progress = Callable[[str, int, int], None]


def _untold(name: str, done: int, total: int) -> None:
    """Nobody is waiting."""


@dataclass(frozen=True, eq=False)
class Prop:
    """A prop as its file describes it. clips: those that some trigger can play."""

    path: Path
    sequence: m.Sequence
    clips: dict[str, PreparedClip]
    compiled: Compiled

    @cached_property
    def circuits(self) -> dict[str, Circuit]:
        """How each group is wired; empty where no supply is described."""
        return circuits(self.sequence)

    def with_clips(self, names: Iterable[str]) -> "Prop":
        """The prop as it is when only these clips sound."""
        table = self.compiled.table
        kept = {self.compiled.names.clips.index(name) for name in names}
        heard = tuple(
            replace(
                effect,
                steps=tuple(
                    step
                    for step in effect.steps
                    if not isinstance(step, PlayClip) or step.clip in kept
                ),
            )
            for effect in table.effects
        )
        return replace(self, compiled=replace(self.compiled, table=replace(table, effects=heard)))

    def script(self, presses: str | None = None) -> tuple[Script, str]:
        """The press script that was asked for, else the first one of the file, else one that
        shows every trigger; parsed, and as text.
        """
        text = presses
        where = "press script"
        if text is None and self.script_name is not None:
            text = self.sequence.scripts[self.script_name].presses
            where = f"{self.path}: script '{self.script_name}'"
        if text is None:
            text = default_script(self.compiled.table, self.compiled.names)
        return parse_script(text, self.compiled.table, self.compiled.names, where), text

    @property
    def script_name(self) -> str | None:
        """Name of the press script that is played where none is asked for; None where the file
        has none.
        """
        return next(iter(self.sequence.scripts), None)

    def supply(self, name: str | None = None) -> tuple[str, m.Supply] | None:
        """The supply of that name, else the first of the file, else None."""
        return supply_of(self.path, self.sequence, name)


def supply_of(
    path: Path, sequence: m.Sequence, name: str | None = None
) -> tuple[str, m.Supply] | None:
    """The supply of that name, else the first of the file, else None. Raises FxError where there
    is none of that name.
    """
    supplies = sequence.supplies
    if name is None:
        return next(iter(supplies.items()), None)
    if name not in supplies:
        allowed = ", ".join(supplies) or "none, as the file has no supplies"
        raise FxError(
            Fault(str(path), f"no supply '{name}'", allowed, did_you_mean(name, supplies))
        )
    return name, supplies[name]


def prepare_clips(
    names: Iterable[str], sequence: m.Sequence, folder: Path, progress: Progress = _untold
) -> dict[str, PreparedClip]:
    """Several clips, and those that they are matched to. Raises ClipError with the faults of all.

    progress: called with a clip's name, what is done and all that there is to do, while it is read,
    if it is long, and while its coding is searched for.
    """
    done: dict[str, PreparedClip] = {}
    faults: list[Fault] = []
    for name in _others_first(names, sequence):
        clip = sequence.clips[name]
        matched = done.get(clip.match_to or "")
        if matched is None:
            # The other one is at fault; this one may be too.
            clip = clip.model_copy(update={"match_to": None})
        try:
            done[name] = prepare_as(name, clip, sequence, folder, matched, partial(progress, name))
        except ClipError as error:
            faults += error.faults
    if faults:
        raise ClipError(*faults)
    return done


def prepare_as(
    name: str,
    clip: m.Clip,
    sequence: m.Sequence,
    folder: Path,
    matched: PreparedClip | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> PreparedClip:
    """A clip with settings that may differ from those of the sequence. matched: the clip that it
    is matched to. Raises ClipError.
    """
    return draft_clip(name, clip, sequence, folder, matched, progress).stored(clip.fitted, progress)


def draft_clip(
    name: str,
    clip: m.Clip,
    sequence: m.Sequence,
    folder: Path,
    matched: PreparedClip | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Draft:
    """Clip before it is known how it is stored. Raises ClipError."""
    return draft(
        name, clip, sequence.board, folder, heard_response(sequence.speaker), matched, progress
    )


def _others_first(names: Iterable[str], sequence: m.Sequence) -> list[str]:
    """The clips and those that they are matched to, each once and behind the one that it is
    matched to.
    """
    order: dict[str, None] = {}
    for name in names:
        chain = [name]
        while (other := sequence.clips[chain[-1]].match_to) is not None and other not in order:
            chain.append(other)
        order |= dict.fromkeys(reversed(chain))
    return list(order)


Preparer = Callable[[Iterable[str], m.Sequence, Path], dict[str, PreparedClip]]


def load_prop(path: Path, progress: Progress = _untold) -> Prop:
    """Read, prepare and compile. Raises FxError with every fault of the file, or of the clips, or
    of the table.

    progress: as `prepare_clips` calls it.
    """
    text = decode(read_bytes(path), str(path))
    return prop_of(path, text, loads(text, str(path)), partial(prepare_clips, progress=progress))


def prop_of(path: Path, text: str, sequence: m.Sequence, preparer: Preparer) -> Prop:
    """As `make_prop`, of the text that says so. Also refuses what its board cannot do in time."""
    prop = make_prop(path, sequence, preparer)
    refuse_late(path, text, sequence, prop.compiled)
    return prop


def make_prop(path: Path, sequence: m.Sequence, preparer: Preparer = prepare_clips) -> Prop:
    """Prepare and compile what the file of this path says, or will say. Raises FxError with
    every fault of the clips, or of the table.
    """
    names = clips_in_reach(sequence)
    prepared = preparer(names, sequence, path.parent)
    clips = {name: prepared[name] for name in names}
    try:
        return Prop(path, sequence, clips, compile_sequence(sequence, clips))
    except TableError as error:
        raise TableError(
            *(replace(fault, where=f"{path}: {fault.where}") for fault in error.faults)
        ) from None
