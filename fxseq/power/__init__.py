"""Electricity: what light and sound take from the supply over time.

May import `sequence`. Pure functions of change points and part models; the amplifier's current comes in as an array (`acoustics`).
"""
from fxseq.power.current import Draw, draw, group_current_ma, supply_findings
from fxseq.power.steps import Steps, align, lit_share, steps_of_blocks, total

__all__ = ["Draw", "Steps", "align", "draw", "group_current_ma", "lit_share", "steps_of_blocks", "supply_findings", "total"]
