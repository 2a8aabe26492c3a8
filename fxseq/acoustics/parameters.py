"""The numbers of a loudspeaker data sheet: what follows from which, and which of them contradict
each other.

Quantities, in SI units, by the names used as keys here:

    resonance_hz              fs   resonance in free air
    q_mechanical              Qms  damping of that resonance by friction
    q_electrical              Qes  damping by the coil
    q_total                   Qts  both together
    equivalent_volume_m3      Vas  air as springy as the suspension
    coil_ohm                  Re   resistance of the coil at direct current
    moving_mass_kg            Mms  mass that moves, its air included
    compliance_m_per_n        Cms  of the suspension
    force_factor_tm           Bl   force over current
    area_m2                   Sd   of the cone
    flat_pa_per_v             pressure at 1 m in half space over voltage, above resonance

Source: the small-signal model of A. N. Thiele and R. H. Small (1971-72), seen as abstract, glossary
and in three copies of the equations. Three measured data sheets and a simulation example agree with
it (tests/published/test_driver.py).
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from fxseq.acoustics.air import DENSITY_KG_PER_M3, SPEED_OF_SOUND_M_PER_S

Quantities = Mapping[str, float]

_RHO = DENSITY_KG_PER_M3
_C = SPEED_OF_SOUND_M_PER_S
_ALLOWED = 1.10
"""Numbers of one sheet that agree to a tenth are taken as consistent. Common practice, no
source.
"""
_ALLOWED_FLAT = 10 ** (3.0 / 20)
"""Sensitivities are printed with a spread of 3 dB, as seen on most sheets of small speakers."""


@dataclass(frozen=True)
class Product:
    """constant * product of quantities, each to its power, is 1: any one of them follows from
    the others.
    """

    text: str
    constant: float
    powers: Mapping[str, float]
    allowed: float = _ALLOWED

    def derive(self, name: str, known: Quantities) -> float | None:
        """The quantity from the others; they are all > 0."""
        rest = self.constant * math.prod(
            known[other] ** power for other, power in self.powers.items() if other != name
        )
        return float(rest ** (-1 / self.powers[name]))


@dataclass(frozen=True)
class Damping:
    """1 / Qts = 1 / Qes + 1 / Qms."""

    text: str = "1 / Qts = 1 / Qes + 1 / Qms"
    powers: tuple[str, ...] = ("q_total", "q_electrical", "q_mechanical")
    allowed: float = _ALLOWED

    def derive(self, name: str, known: Quantities) -> float | None:
        """The Q from the other two; None where they leave no damping for it."""
        if name == "q_total":
            return 1 / (1 / known["q_electrical"] + 1 / known["q_mechanical"])
        other = "q_mechanical" if name == "q_electrical" else "q_electrical"
        left = 1 / known["q_total"] - 1 / known[other]
        if left > 0:
            return 1 / left
        return None


RELATIONS: tuple[Product | Damping, ...] = (
    Product(
        "fs = 1 / (2 pi sqrt(Mms Cms))",
        2 * math.pi,
        {"resonance_hz": 1, "moving_mass_kg": 0.5, "compliance_m_per_n": 0.5},
    ),
    Product(
        "Qes = 2 pi fs Mms Re / Bl^2",
        2 * math.pi,
        {
            "q_electrical": -1,
            "resonance_hz": 1,
            "moving_mass_kg": 1,
            "coil_ohm": 1,
            "force_factor_tm": -2,
        },
    ),
    Damping(),
    Product(
        "Vas = rho c^2 Sd^2 Cms",
        _RHO * _C**2,
        {"equivalent_volume_m3": -1, "area_m2": 2, "compliance_m_per_n": 1},
    ),
    Product(
        "sensitivity = rho Sd Bl / (2 pi Mms Re)",
        _RHO / (2 * math.pi),
        {
            "flat_pa_per_v": -1,
            "area_m2": 1,
            "force_factor_tm": 1,
            "moving_mass_kg": -1,
            "coil_ohm": -1,
        },
        _ALLOWED_FLAT,
    ),
    # The two below follow from those above. They are there to be used where the quantities above
    # are not all known.
    Product(
        "sensitivity^2 = rho^2 Sd^2 fs / (2 pi Mms Re Qes)",
        _RHO**2 / (2 * math.pi),
        {
            "flat_pa_per_v": -2,
            "area_m2": 2,
            "resonance_hz": 1,
            "moving_mass_kg": -1,
            "coil_ohm": -1,
            "q_electrical": -1,
        },
        _ALLOWED_FLAT,
    ),
    Product(
        "sensitivity^2 = 2 pi rho fs^3 Vas / (c^2 Re Qes)",
        2 * math.pi * _RHO / _C**2,
        {
            "flat_pa_per_v": -2,
            "resonance_hz": 3,
            "equivalent_volume_m3": 1,
            "coil_ohm": -1,
            "q_electrical": -1,
        },
        _ALLOWED_FLAT,
    ),
)


@dataclass(frozen=True)
class Contradiction:
    """Numbers that do not go together. name: the quantity as stated; expected: what the others
    make of it; others: these.
    """

    relation: str
    name: str
    stated: float
    expected: float | None
    others: tuple[str, ...]

    @property
    def off_percent(self) -> float | None:
        """How far the stated number is from the others; None where no number would do."""
        if self.expected is None:
            return None
        return (self.stated / self.expected - 1) * 100


def completed(stated: Quantities) -> dict[str, float]:
    """All quantities that follow from those stated, which stay as they are; each > 0."""
    known = dict(stated)
    while True:
        found = _one_more(known)
        if found is None:
            return known
        known[found[0]] = found[1]


def _one_more(known: Quantities) -> tuple[str, float] | None:
    for relation in RELATIONS:
        missing = [name for name in relation.powers if name not in known]
        if len(missing) == 1:
            value = relation.derive(missing[0], known)
            if value is not None:
                return missing[0], value
    return None


def contradictions(stated: Quantities) -> list[Contradiction]:
    """Every relation whose quantities are all stated and that they miss by more than a tenth (3 dB
    where a sensitivity is among them).

    And a total Q that is not below the two it is made of, as stated or as they follow.
    """
    found = []
    for relation in RELATIONS:
        names = tuple(relation.powers)
        if all(name in stated for name in names):
            expected = relation.derive(names[0], stated)
            ratio = math.inf
            if expected is not None:
                ratio = stated[names[0]] / expected
            if not 1 / relation.allowed <= ratio <= relation.allowed:
                found.append(
                    Contradiction(relation.text, names[0], stated[names[0]], expected, names[1:])
                )
    known = completed(stated)
    parts = [
        name
        for name in ("q_electrical", "q_mechanical")
        if "q_total" in stated and known.get(name, math.inf) <= stated["q_total"]
    ]
    if parts and not any(contradiction.name == "q_total" for contradiction in found):
        found.append(Contradiction(Damping.text, "q_total", stated["q_total"], None, tuple(parts)))
    return found


def suspects(stated: Quantities) -> list[str]:
    """Quantities that every broken relation shares and no kept one vouches for: where there is one,
    it is the likely misprint.

    Relations that let 3 dB pass vouch for nothing.
    """
    broken = {contradiction.relation for contradiction in contradictions(stated)}
    tested = [relation for relation in RELATIONS if all(name in stated for name in relation.powers)]
    shared = [set(relation.powers) for relation in tested if relation.text in broken]
    vouched = set().union(
        *(
            set(relation.powers)
            for relation in tested
            if relation.text not in broken and relation.allowed == _ALLOWED
        )
    )
    if not shared:
        return []
    return sorted(set.intersection(*shared) - vouched)


def reference_efficiency(
    resonance_hz: float, equivalent_volume_m3: float, q_electrical: float, sound_m_per_s: float = _C
) -> float:
    """Sound power over electrical power in half space, above resonance, 0..1: eta0 = 4 pi^2 fs^3
    Vas / (c^3 Qes).
    """
    return (
        4 * math.pi**2 * resonance_hz**3 * equivalent_volume_m3 / (sound_m_per_s**3 * q_electrical)
    )
