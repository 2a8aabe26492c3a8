"""How long cells last."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fxseq.checks import run_time_text
from fxseq.power.cells import Pack
from fxseq.power.parts import parts
from fxseq.power.rail import Load
from fxseq.power.run_time import Phase, discharge, run_time, shares
from fxseq.sequence.finding import Weight
from tests.checks.judged import run_time_findings

AA = parts().cells["alkaline_aa"]
FOUR = Pack(AA, 4)
TYPICAL = FOUR.corners()[1]


def steady(current_ma: float) -> list[Phase]:
    return [Phase("idle", 1.0, {"board": Load(current_a=current_ma / 1000)})]


@pytest.mark.parametrize("current_ma", [25, 100, 250])
def test_cells_taken_to_their_end_give_their_capacity(current_ma: float) -> None:
    found = discharge(TYPICAL, steady(current_ma), Load(), 0.0)
    assert found.hours == pytest.approx(
        float(TYPICAL.capacity_mah(current_ma)) / current_ma, rel=0.01
    )


def test_parallel_cells_at_twice_the_current_last_as_long() -> None:
    double = Pack(AA, 4, size=2.0)
    assert discharge(double, steady(200), Load(), 4.4).hours == pytest.approx(
        discharge(FOUR, steady(100), Load(), 4.4).hours
    )
    assert (double.maximum_ma, double.lowest_ma) == (2000, 50)
    assert double.resistance_ohm(0.3) == pytest.approx(FOUR.resistance_ohm(0.3) / 2)


def test_time_in_which_nothing_is_drawn_costs_nothing() -> None:
    half = [Phase("idle", 0.5, {}), Phase("held", 0.5, {"lens": Load(current_a=0.1)})]
    assert discharge(TYPICAL, half, Load(), 4.4).hours == pytest.approx(
        2 * discharge(TYPICAL, steady(100), Load(), 4.4).hours
    )


def test_cells_are_not_taken_below_their_own_end() -> None:
    """Lithium ends at 3.0 V at rest, whatever the prop still runs at; what 1 A takes off is in
    the capacity at 1 A.
    """
    pack = Pack(parts().cells["li_ion"], 2).corners()[1]
    found = discharge(pack, steady(1000), Load(current_a=1.0), 0.0)
    assert 0.9 < found.depth < 0.95
    assert float(pack.open_v(found.depth)) == pytest.approx(6.0, abs=0.02)
    assert found.hours == pytest.approx(
        found.depth * float(pack.capacity_mah(1000)) / 1000, rel=0.005
    )


def test_all_of_what_a_cell_gives_at_a_current_is_taken() -> None:
    """The capacity at a current is what it gives down to its end under it: 1 A of NiMH."""
    pack = Pack(parts().cells["nimh_aa"], 2).corners()[1]
    assert discharge(pack, steady(1000), Load(current_a=1.0), 0.0).hours == pytest.approx(
        float(pack.capacity_mah(1000)) / 1000, rel=0.005
    )


def test_heaviest_moment_ends_the_run() -> None:
    """A moment of 0.5 A brings the prop down long before the cells are empty at 50 mA."""
    easy, hard = (
        discharge(TYPICAL, steady(50), Load(current_a=amperes), 4.4) for amperes in (0.05, 0.5)
    )
    assert hard.hours < 0.8 * easy.hours
    assert float(
        TYPICAL.open_v(hard.depth) - 0.5 * TYPICAL.resistance_ohm(hard.depth)
    ) == pytest.approx(4.4, abs=0.01)


def test_fresh_cells_that_cannot_carry_the_moment_last_for_no_time() -> None:
    assert discharge(TYPICAL, steady(50), Load(power_w=50.0), 4.4).hours == 0.0


def test_run_time_is_worst_case_typical_and_best_case() -> None:
    hours = run_time(FOUR, steady(100), Load(current_a=0.3), 4.4).hours
    assert hours is not None
    assert 0 < hours.low < hours.typical < hours.high


def test_current_beyond_the_data_lasts_at_most_what_the_data_end_with() -> None:
    found = run_time(FOUR, steady(2100), Load(current_a=0.7), 3.6)
    assert found.hours is not None and found.hours.typical < 700 / 2100
    assert run_time_text(found).startswith(
        "at most 0.2 h: the prop draws more than 2000 mA, and the cells' capacity is known only up"
        " to there"
    )
    (finding,) = run_time_findings("pack", found, 8.0)
    assert finding.weight == Weight.WARNING
    (finding,) = run_time_findings("pack", found, 0.1)
    assert finding.weight == Weight.NOTE


def test_a_step_up_converter_on_two_cells_is_known_not_to_last_the_day() -> None:
    # 6 W from 3.2 V and less are 1.9 A and more: 0.3 h of the 700 mAh that are known at 2 A.
    found = run_time(
        Pack(parts().cells["alkaline_aa"], 2),
        [Phase("held", 1.0, {"all": Load(power_w=5.0)})],
        Load(),
        0.0,
    )
    (finding,) = run_time_findings("pack", found, 8.0)
    assert finding.weight == Weight.WARNING and finding.figure.startswith("run time at most 0.")


def test_nothing_drawn_lasts_forever() -> None:
    assert discharge(TYPICAL, steady(0.0), Load(), 4.4).hours == math.inf


def test_drains_are_named_by_state_and_consumer_largest_first() -> None:
    board = Load(current_a=0.010)
    phases = [
        Phase("idle", 0.9, {"board": board, "lens": Load()}),
        Phase("held", 0.1, {"board": board, "lens": Load(current_a=0.3)}),
    ]
    drains = run_time(FOUR, phases, Load(current_a=0.31), 4.4).drains
    assert [key for key, _ in drains[:2]] == [("held", "lens"), ("idle", "board")]
    assert dict(drains)["held", "lens"] == pytest.approx(0.75)
    assert sum(part for _, part in drains) == pytest.approx(1.0)


def test_drains_are_those_of_cells_that_are_half_used_up() -> None:
    """A current of 0.1 A and a power of 2 W by hand: V = E - R (I + P / V), so V^2 - (E - R I) V
    + R P = 0.
    """
    open_v = float(FOUR.open_v(0.5))
    ohms = float(FOUR.resistance_ohm(0.5))
    amperes = 0.1
    watts = 2.0
    held_v = open_v - ohms * amperes
    rail_v = (held_v + math.sqrt(held_v**2 - 4 * ohms * watts)) / 2
    drains = run_time(
        FOUR,
        [Phase("held", 1.0, {"board": Load(current_a=amperes), "amplifier": Load(power_w=watts)})],
        Load(),
        0.0,
    ).drains
    assert dict(drains)["held", "amplifier"] == pytest.approx(
        watts / rail_v / (amperes + watts / rail_v), rel=1e-4
    )


def test_shares_of_an_hour() -> None:
    # 60 taps of 3 s and 360 s held: 5 % and 10 %.
    assert shares(60, 3.0, 360) == pytest.approx({"idle": 0.85, "taps": 0.05, "held": 0.10})


def test_more_than_an_hour_in_an_hour_is_refused() -> None:
    with pytest.raises(ValueError, match="do not fit into an hour"):
        shares(1000, 3.0, 700)


@given(
    kind=st.sampled_from(sorted(parts().cells)),
    series=st.integers(1, 12),
    size=st.floats(0.1, 10),
    ma=st.floats(0, 5000),
    moment_w=st.floats(0, 100),
    minimum_v=st.floats(0, 60),
)
def test_hours_are_never_negative_and_never_nan_without_a_reason(
    kind: str,
    series: int,
    size: float,
    ma: float,
    moment_w: float,
    minimum_v: float,
) -> None:
    pack = Pack(parts().cells[kind], series, size)
    found = discharge(pack, steady(ma), Load(current_a=ma / 1000, power_w=moment_w), minimum_v)
    assert found.hours >= 0 or (found.missing and math.isnan(found.hours))
    assert 0 <= found.depth <= 1


@given(kind=st.sampled_from(sorted(parts().cells)), ma=st.floats(1, 400), more=st.floats(1, 3))
def test_more_current_never_lasts_longer(kind: str, ma: float, more: float) -> None:
    pack = Pack(parts().cells[kind], 4, 3.0)
    less, longer = (
        np.nan_to_num(discharge(pack, steady(value), Load(current_a=value / 1000), 0.0).hours)
        for value in (ma * more, ma)
    )
    assert less <= longer * (1 + 1e-9)
