"""Where a clip is parted for the codings whose blocks carry a state (SPEC 3.7 R3): where its
loop starts, so that a loop begins with a block.
"""


def runs(samples: int, loop_start: int | None = None) -> tuple[int, ...]:
    """Samples of each run of a clip: one, or two where a loop starts behind its first sample."""
    if loop_start:
        return (loop_start, samples - loop_start)
    return (samples,)
