"""The sample: every input counts, units and faces do not, and wider bands make nothing surer."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pieces import numbers_of

from refdb.judge import limits
from refdb.judge.draws import HOOP_INPUTS, QUESTION_INPUTS
from refdb.judge.fit.build import Build
from refdb.judge.fit.glass_on_metal import suits
from refdb.judge.fit.question import Question
from refdb.judge.numbers import Numbers
from refdb.judge.reason import SUITS
from refdb.quantities import thickness
from refdb.quantities.typed import Band

CLEAR, COPPER = "clear-hard-lead-free", "copper-sheet"


def sample(glass, metal, build: Build) -> Numbers:
    """The sampled numbers of a question that lacks no figure."""
    return numbers_of(Question(glass, metal, build))


# Symmetries


@settings(max_examples=8, deadline=None)
@given(st.integers(20, 60), st.integers(4, 16), st.integers(0, 16))
def test_the_unit_of_a_thickness_never_changes_a_verdict(ref, metal, front, back):
    def told(text) -> tuple[str, list[tuple[str, str]], float]:
        verdict = suits(
            ref,
            CLEAR,
            COPPER,
            metal_thickness_m=thickness(text(metal), where="m").band,
            front_m=thickness(text(front), where="f").band,
            back_m=thickness(text(back), where="b", zero_ok=True).band,
        )
        return verdict.outcome, [(r.rule, r.outcome) for r in verdict.reasons], verdict.confidence

    first = told(lambda n: f"{n} thou")
    assert first == told(lambda n: f"{n * 0.0254:.6g} mm")
    assert first == told(lambda n: f"{n * 25.4:.6g} um")
    assert first == told(lambda n: f"{n / 1000:.6g} in")


@settings(max_examples=6, deadline=None)
@given(st.integers(1, 8), st.integers(0, 8), st.sampled_from(["copper-sheet", "fine-silver-sheet", "low-carbon-steel"]))
def test_swapping_front_and_back_mirrors_the_answer(ref, front, back, metal):
    one = suits(ref, CLEAR, metal, front_m=front * 5e-5, back_m=back * 5e-5)
    two = suits(ref, CLEAR, metal, front_m=back * 5e-5, back_m=front * 5e-5)
    assert one.outcome == two.outcome
    assert one.confidence == two.confidence
    for a, b in zip(one.stages, two.stages, strict=True):
        if front != back:
            assert a.bow_mm_per_30mm.value == pytest.approx(-b.bow_mm_per_30mm.value, abs=1e-9)
        of_b = {x.name: x for x in b.layers}
        for layer in a.layers:
            other = of_b[
                {"front glass": "back glass", "back glass": "front glass"}.get(layer.name, "metal")
                if front != back
                else layer.name
            ]
            top, bottom = (other.bottom_mpa, other.top_mpa) if front != back else (other.top_mpa, other.bottom_mpa)
            assert layer.top_mpa.value == pytest.approx(top.value, abs=1e-6)
            assert layer.bottom_mpa.value == pytest.approx(bottom.value, abs=1e-6)


def widened(record, factor: float):
    """The record with every preferred band about its value `factor` times as wide."""

    def wide(v):
        band = v.band
        return replace(
            v,
            value=band.value,
            low=band.value - factor * (band.value - band.low),
            high=band.value + factor * (band.high - band.value),
        )

    return replace(record, values=tuple(wide(v) if v.preferred else v for v in record.values))


@pytest.mark.parametrize("metal", ["copper-sheet", "gilding-95-5", "copper-clay"])
def test_wider_bands_never_make_a_plain_suits_surer(ref, metal):
    glass, base = ref.glass(CLEAR), ref.metal(metal)
    found = [suits(ref, widened(glass, k), widened(base, k)).shares[SUITS] for k in (0.0, 0.5, 1.0, 1.3, 1.6)]
    assert found[0] == 1.0
    assert all(b <= a + 1 / 128 for a, b in pairwise(found)), found
    assert found[-1] < found[0]


# Every input counts


def fixed(record, *names: str):
    def fix(v):
        middle = v.band.value
        return replace(v, value=middle, low=middle, high=middle) if v.property in names and v.preferred else v

    return replace(record, values=tuple(map(fix, record.values)))


BANDED = Build(
    metal_m=Band(0.8e-3, 0.7e-3, 0.9e-3),
    front_m=Band(0.3e-3, 0.25e-3, 0.35e-3),
    back_m=Band(0.2e-3, 0.15e-3, 0.25e-3),
    shape="domed",
)
OF_GLASS = {
    "glass expansion": ("expansion",),
    "set point": ("set_point",),
    "glass stiffness": ("youngs_modulus",),
    "glass Poisson's ratio": ("poisson_ratio",),
    "kiln range low": ("fuse_low",),
    "kiln range high": ("fuse_high",),
}
OF_METAL = {
    "metal expansion": ("expansion",),
    "metal yield": ("flow_stress", "hardening"),
    "yield at heat": ("flow_ratio_500c",),
    "metal stiffness": ("youngs_modulus",),
    "metal Poisson's ratio": ("poisson_ratio",),
    "solidus": ("solidus",),
}
OF_BUILD = {
    "metal thickness": {"metal_m": Band.exact(0.8e-3)},
    "front thickness": {"front_m": Band.exact(0.3e-3)},
    "back thickness": {"back_m": Band.exact(0.2e-3)},
    "rise of the dome": {"rise_m": Band.exact(2e-3)},
}
#: Bands that no record and no build has.
OF_LIMITS = {
    "transition contraction": "TRANSITION_CONTRACTION",
    "glass strength": "STRENGTH_MPA",
    "release that wants care": "RELEASE_CARE_J_M2",
    "release that throws off": "RELEASE_NOT_J_M2",
    "grip of the dome": "DOME_GRIP",
    "rim of the dome": "RIM_BEYOND",
    "hoop of the rim": "RIM_FOLLOWED",
    "radius of the dome": "DOME_RADIUS_M",
    "strength of a ring": "RING_STRONGER",
}
#: Builds on which these count: a coat on thin metal is stretched far, thick coats on thick metal set much free.
THIN = {"metal_m": Band.exact(0.3e-3)}
#: A dome coated first on its hollow face.
HOLLOW = {"metal_m": Band.exact(0.4e-3), "order": "back-first"}
THICK = {"metal_m": Band.exact(3e-3), "front_m": Band.exact(0.45e-3), "back_m": Band.exact(0.45e-3)}
WHERE_IT_COUNTS = {
    "glass strength": THIN,
    "release that wants care": THICK,
    "release that throws off": THICK,
    **dict.fromkeys(HOOP_INPUTS, HOLLOW),
}


def banded(record):
    """The record with a band on every preferred figure that has none, 2 % each way."""

    def with_band(v):
        band = v.band
        return (
            v
            if not (v.preferred and band.is_exact)
            else replace(v, value=band.value, low=band.value * 0.98, high=band.value * 1.02)
        )

    return replace(record, values=tuple(with_band(v) for v in record.values))


@pytest.mark.parametrize("name", [*QUESTION_INPUTS, *HOOP_INPUTS])
def test_fixing_any_input_changes_an_answer(ref, monkeypatch, name):
    # Sterling's solidus closes the kiln window from above; on copper the glass's own range does.
    base = "copper-sheet" if name == "kiln range high" else "sterling-sheet"
    glass, metal = banded(ref.glass("clear-medium-lead-free")), banded(ref.metal(base))
    build = replace(BANDED, **WHERE_IT_COUNTS.get(name, {}))
    with_band = sample(glass, metal, build)
    if name in OF_GLASS:
        glass = fixed(glass, *OF_GLASS[name])
    elif name in OF_METAL:
        metal = fixed(metal, *OF_METAL[name])
    elif name in OF_BUILD:
        build = replace(build, **OF_BUILD[name])
    else:
        middle = getattr(limits, OF_LIMITS[name])[0]
        monkeypatch.setattr(limits, OF_LIMITS[name], (middle, middle, middle))
    without_band = sample(glass, metal, build)
    assert (with_band.stages, with_band.measures, with_band.rules) != (
        without_band.stages,
        without_band.measures,
        without_band.rules,
    )


@pytest.mark.parametrize("metal", ["copper-sheet", "sterling-sheet", "stainless-430"])
def test_only_an_input_with_a_band_is_said_to_decide(ref, metal):
    for glass in (CLEAR, "steel-cover-coat-titania", "titanium-low-expansion"):
        decides = sample(ref.glass(glass), ref.metal(metal), Build()).decides
        assert not any(w in decides for w in ("dome", "thickness"))
    narrow = widened(ref.metal(metal), 0.0)
    build = Build(metal_m=Band(0.6e-3, 0.2e-3, 1.0e-3))
    assert sample(widened(ref.glass(CLEAR), 0.0), narrow, build).decides in ("", "metal thickness")
    assert sample(widened(ref.glass(CLEAR), 0.0), narrow, Build()).decides == ""


def test_numbers_come_back_from_their_plain_form(ref):
    made = sample(ref.glass(CLEAR), ref.metal(COPPER), Build())
    plain = made.to_plain()
    assert Numbers.from_plain(plain).to_plain() == plain
    assert Numbers.from_plain(plain).measures["gap_ppm"] == pytest.approx(made.measures["gap_ppm"], rel=1e-4)
