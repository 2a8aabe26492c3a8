"""fxseq check."""
from pathlib import Path

import click

from fxseq.cli.output import findings_text, json_option, press_text, presses_option, result, sequence_argument, supply_option


@click.command()
@sequence_argument
@presses_option
@supply_option
@json_option
def command(sequence: Path, presses: str | None, supply: str | None, as_json: bool) -> int:
    """Say what is wrong with a prop, heaviest first.

    Reads the file and its clips, plays a press script, and holds what comes out against limits. Exit status 1 where a finding is a fault.
    """
    from fxseq.checks import findings, load_prop, perform
    from fxseq.sequence import Weight

    prop = load_prop(sequence)
    script, _ = prop.script(press_text(presses))
    found = findings(perform(prop, script, supply))
    counts = {weight.name.lower(): sum(finding.weight == weight for finding in found) for weight in reversed(Weight)}
    words = ", ".join(f"{count} {name}{'s' if count != 1 else ''}" for name, count in counts.items())
    text = "\n\n".join([*findings_text(found), f"{sequence}: {words}.", CAUTION])
    result(text, {"findings": [finding.as_dict() for finding in found], **counts}, as_json)
    return int(counts["fault"] > 0)


CAUTION = (
    "These checks are a first help at the desk. They do not replace local codes, the rules of the venue or licensed practice, "
    "and they certify nothing."
)
