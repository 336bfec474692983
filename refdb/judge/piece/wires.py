"""Which metals of wires can be reckoned with, and how their inputs are called."""

from __future__ import annotations

from refdb.judge.piece.states import Walk

#: The input by which the error of the model of a wire is drawn, from -1 to 1.
WIRE_MODEL = "model of a wire in glass"


def wire_metals(trail: Walk) -> list[str]:
    """Keys of the metals of wires, as far as their figures are known, each once."""
    found = dict.fromkeys(s.metal for s in trail.piece.steps_of("wire") if s.metal in trail.metals)
    needed = ("expansion", "youngs_modulus", "poisson_ratio", "flow_stress", "hardening", "flow_ratio_500c", "solidus")
    return [key for key in found if all(trail.metals[key].band(name) is not None for name in needed)]


def of_wire(metal: str) -> str:
    """What follows the name of a metal's input where it is that of a wire."""
    return f" of {metal} wire"
