"""Changes that make no difference anyone could notice: (file, line, what stood there, what it becomes) -> why."""

from __future__ import annotations

_JUDGE, _SCIENCE = "refdb/judge", "refdb/science"
_HAIR = "no figure lies within a billionth of the limit by chance, and rounding alone may be on either side of it"

EQUIVALENTS: dict[tuple[str, str, str, str], str] = {
    (
        f"{_JUDGE}/fit/glass_on_metal.py",
        "refusals = round(verdict.shares.get(NOT, 0.0) * 10)",
        "0.0",
        "0.001",
    ): "a share of a thousandth is no refusal in ten either",
    (
        f"{_JUDGE}/stack.py",
        "stage = SampledStage(title, 0, layers, bow, plastic, release)",
        "0",
        "1",
    ): "a piece writes its own number of the firing over it",
    (
        f"{_JUDGE}/stack.py",
        "on: Any = (thickness > 0).any(axis=1)",
        "thickness > 0",
        "thickness >= 0",
    ): "what is not on has no thickness, so its numbers only tell apart states that come out alike",
    (
        f"{_JUDGE}/draws.py",
        'np.maximum(of("metal yield", metal.band("hardening")), 0.0),',
        "0.0",
        "0.001",
    ): "a hardening of a thousandth of a pascal is none",
    (
        f"{_JUDGE}/fit/question.py",
        "return Band(band.value - less.value, band.low - less.low, band.high - less.high)",
        "less.value",
        "less.high",
    ): "a first coat is cut at one thickness, so where more is laid on it its value and its high end are that",
    **{
        (
            f"{_SCIENCE}/plate/yielding.py",
            "slopes[k] = ((flow(temp, part + 1e-7) - value) / 1e-7).T",
            "1e-07",
            after,
        ): "the slope only steers Newton's method, and the balance that it must meet is the same"
        for after in ("1.1499999999999998e-07", "8.5e-08")
    },
    (
        f"{_SCIENCE}/inference/strip.py",
        "return bounds[0] <= LEAST_PER_K + 1e-7 or bounds[1] >= MOST_PER_K - 1e-7",
        "bounds[1] >= MOST_PER_K - 1e-07",
        "bounds[1] > MOST_PER_K - 1e-07",
    ): _HAIR,
    (
        f"{_SCIENCE}/inference/strip.py",
        "identifies = bounds[1] - bounds[0] <= WIDEST_USEFUL_PER_K and not _cut_off(bounds)",
        "bounds[1] - bounds[0] <= WIDEST_USEFUL_PER_K",
        "bounds[1] - bounds[0] < WIDEST_USEFUL_PER_K",
    ): _HAIR,
    (
        f"{_JUDGE}/piece/held_against.py",
        '"least-metal", Subject(metal=piece.metal.key), '
        "np.where(metal_m * HAIR < least.value, 1.0, 0.0), metal_m * 1e3",
        "metal_m * HAIR < least.value",
        "metal_m * HAIR <= least.value",
    ): "the factor beside it is there so that no thickness as typed lies at the limit itself",
    **{
        (f"{_JUDGE}/own/tiles.py", "sum(b.value for b, _ in laid),", "b.value", after): "a tile is held "
        "against the ends of the band alone"
        for after in ("b.low", "b.high")
    },
    (
        f"{_SCIENCE}/firing/heating.py",
        "late_step = max(_rung(_LATE_STEP_FRACTION * follows, _LATE_STEP_S), step)",
        "max",
        "min",
    ): "late steps as fine as the early ones cost time and change no temperature that is told",
    (
        f"{_SCIENCE}/plate/stepping.py",
        "if other is curve and np.array_equal(at, set_c):",
        "guard other is curve and np.array_equal(at, set_c)",
        "no guard",
    ): "what is not found among the strains already known is worked out again, to the same",
}
