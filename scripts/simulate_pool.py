"""Make up studios from a known truth and write what they would share: for tests, for a try, and for teaching.

    scripts/simulate_pool.py --studios 50 --tiles 20 --mean 13.0 --spread 0.6 pool.csv

Each studio has one jar of the class. Its expansion, set point, stiffness and strength, the yield of its metals and the
studio's own eye are drawn at random and continuously; each build is cooled on the plate; each tile then crazes, chips
or stays sound by chance. With --strips 1 each jar is fired on a strip too, whose bow is read with callipers and a rule,
with their errors. The truth is written to standard output, not into the file.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from refdb.judge import limits  # noqa: E402
from refdb.judge.own.strip_test import BOW_ERROR_M, COAT_ERROR_M, METAL_ERROR_M  # noqa: E402
from refdb.quantities.band import Band  # noqa: E402
from refdb.records.pooled import SharedRow  # noqa: E402
from refdb.science.expansion import glass_strain  # noqa: E402
from refdb.science.inference.strip_table import Errors, bow_of_curvature  # noqa: E402
from refdb.science.plate import Array, ByPlate, HardeningYield, Plates, ResidualMany, cool_many  # noqa: E402
from refdb.science.plate.duration import duration_factor  # noqa: E402
from refdb.science.sampling import from_band  # noqa: E402
from refdb.store.pool.columns import written  # noqa: E402
from refdb.store.reference import Reference, default_path  # noqa: E402

#: Metal, front and back as `DESIGNS` has them.
Build = tuple[str, float, float, float]
WORDS = ("sound", "crazed", "chipped")
#: Metal, front and back [mm] that the studios take in turn.
DESIGNS = {
    "mixed": (
        ("copper-sheet", 0.8, 0.3, 0.3),
        ("copper-sheet", 0.8, 0.3, 0.0),
        ("copper-sheet", 0.5, 0.2, 0.0),
        ("copper-sheet", 0.4, 0.3, 0.0),
        ("copper-sheet", 1.0, 0.2, 0.0),
        ("copper-sheet", 0.6, 0.5, 0.2),
        ("low-carbon-steel", 0.8, 0.3, 0.3),
        ("low-carbon-steel", 0.5, 0.2, 0.0),
    ),
    "thin": (("copper-sheet", 0.5, 0.2, 0.0), ("copper-sheet", 0.4, 0.2, 0.0), ("copper-sheet", 0.3, 0.1, 0.0)),
    "standard": (("copper-sheet", 0.8, 0.3, 0.3),),
}
#: Metal and coat of a strip, as they are meant to be, and its length [mm].
STRIP = ("copper-sheet", 0.5, 0.3, 0.0)
STRIP_LENGTH_MM = 100.0


@dataclass(frozen=True)
class Truth:
    """What is true of a class, and how the studios are: expansions effective, over 20 to 400 °C [ppm/K].

    Away from the model: `set_k` is added to every set point, `strength_mpa` to every strength; of `cool_kilns` of the
    tiles the glass crazes whatever it is; `liars` studios tell the contrary of what they saw. Each studio
    has `jars` jars, and of each `strips` strips; the last `odd_jars` bear `odd_mpa` more than others.
    """

    mean: float = 13.3
    spread: float = 0.6
    shift_mpa: float = 3.0
    set_k: float = 0.0
    strength_mpa: float = 0.0
    cool_kilns: float = 0.0
    liars: int = 0
    jars: int = 1
    odd_jars: int = 0
    odd_mpa: float = -20.0
    strips: int = 0


def studios(
    ref: Reference, glass: str, truth: Truth, count: int, tiles: int, builds: Sequence[Build], rng: np.random.Generator
) -> list[SharedRow]:
    """The shared rows of so many jars, each of so many tiles of the builds in turn; the liars come first."""
    record = ref.glass(glass)
    jars = (truth.mean + truth.spread * rng.standard_normal(count)) * 1e-6
    jar = {n: _drawn(record.band(n), count, rng) for n in ("set_point", "youngs_modulus", "poisson_ratio")}
    jar["set_point"] = jar["set_point"] + truth.set_k
    owner = np.arange(count) // truth.jars * truth.jars
    strength = from_band(rng.uniform(size=count), *limits.STRENGTH_MPA) * duration_factor(limits.HOURS_FOR_GOOD)
    strength = (strength + truth.shift_mpa * rng.standard_normal(count)[owner] + truth.strength_mpa) * 1e6
    strength[count - truth.odd_jars :] += truth.odd_mpa * 1e6
    metals = drawn_metals(ref, builds, count, rng)
    chances = [true_chances(ref, b, jars, jar, metals[b[0]], strength) for b in builds]
    signs = [rng.bytes(8).hex() for _ in range(count)]
    rows = []
    for s in range(count):
        for k in range(tiles):
            which = k % len(builds)
            metal, metal_mm, front, back = builds[which]
            word = str(rng.choice(WORDS, p=chances[which][:, s]))
            if rng.uniform() < truth.cool_kilns:
                word = "crazed"
            if s < truth.liars:
                word = "crazed" if word == "sound" else "sound"
            rows.append(
                SharedRow(
                    "tile", signs[owner[s]], signs[s][:8], rng.bytes(6).hex(), glass, metal, metal_mm, front, back,
                    None, None, word, None, "2024-05",
                )
            )  # fmt: skip
    for _ in range(truth.strips):
        for s, bow_mm in enumerate(_bows_mm(ref, jars, jar, metals[STRIP[0]], rng)):
            rows.append(
                SharedRow(
                    "strip", signs[owner[s]], signs[s][:8], rng.bytes(6).hex(), glass, *STRIP[:3], None, None, None,
                    None, None, "2024-05", STRIP_LENGTH_MM, round(bow_mm, 2),
                )
            )  # fmt: skip
    return [rows[k] for k in rng.permutation(len(rows))]


def _bows_mm(
    ref: Reference, jars: Array, jar: Mapping[str, Array], of_metal: Mapping[str, Array], rng: np.random.Generator
) -> list[float]:
    """What is read of a strip of each jar [mm]: thicknesses and length are not quite what is written down."""
    key, *sizes = STRIP
    metal, coat = (
        x * 1e-3 + error * rng.standard_normal(len(jars))
        for x, error in zip(sizes[:2], (METAL_ERROR_M, COAT_ERROR_M), strict=True)
    )
    many = _cooled(ref, key, (metal, coat, np.zeros(len(jars))), jars, jar, of_metal)
    length = STRIP_LENGTH_MM * 1e-3 + Errors().length_m * rng.standard_normal(len(jars))
    error = BOW_ERROR_M * rng.standard_normal(len(jars))
    bows = [bow_of_curvature(k, n) for k, n in zip(many.curvature_per_m, length, strict=True)]
    return [float(x) for x in (np.array(bows) + error) * 1e3]


def drawn_metals(
    ref: Reference, builds: Sequence[Build], count: int, rng: np.random.Generator
) -> dict[str, dict[str, Array]]:
    """By key of a metal what is true of it in each of so many studios: stiffness, expansion and yield."""
    metals = {}
    for key in sorted({b[0] for b in builds}):
        metal, share = ref.metal(key), rng.uniform(size=count)
        names = ("youngs_modulus", "poisson_ratio", "flow_ratio_500c", "expansion")
        metals[key] = {name: _drawn(metal.band(name), count, rng) for name in names}
        for name in ("flow_stress", "hardening"):
            b = metal.band(name)
            metals[key][name] = from_band(share, b.value, b.low, b.high)
    return metals


def _drawn(band: Band, count: int, rng: np.random.Generator) -> Array:
    return np.asarray(from_band(rng.uniform(size=count), band.value, band.low, band.high))


def true_chances(
    ref: Reference, build: Build, jars: Array, jar: Mapping[str, Array], of_metal: Mapping[str, Array], strength: Array
) -> Array:
    """Chance of sound, crazed and chipped (3, jars) of a build on each jar, straight from the plate.

    The formulas are written out here, apart from those that learn. `jars` are effective expansions [1/K], `jar` and
    `of_metal` what else is true of glass and metal, `strength` is in Pa.
    """
    key, *sizes = build
    m, f, b = (np.full(len(jars), x * 1e-3) for x in sizes)
    many = _cooled(ref, key, (m, f, b), jars, jar, of_metal)
    metal = ref.metal(key)
    set_c, factor = _set_and_factor(ref, key, jar, of_metal)
    there = [k for k in (0, 2) if (b, m, f)[k][0] > 0]
    worst = np.maximum(many.bottom_pa, many.top_pa)[:, there].max(axis=1)
    gap = (metal.curve(set_c) * factor - glass_strain(set_c, jars)) * 1e6
    c = 1 / (1 + np.exp(-np.clip((worst - strength) / 4.4e6, -50, 50)))
    h = 1 / (1 + np.exp(-np.clip((gap - 6000) / 500, -50, 50)))
    return 0.95 * np.array([(1 - c) * (1 - h), c * (1 - h / 2), h * (1 - c / 2)]) + 0.05 / 3


def _set_and_factor(
    ref: Reference, key: str, jar: Mapping[str, Array], of_metal: Mapping[str, Array]
) -> tuple[Array, Array]:
    """Set point of each jar on a metal [°C], and the metal's expansion as a share of what is known of it."""
    metal = ref.metal(key)
    return np.minimum(jar["set_point"], metal.curve.high_c), of_metal["expansion"] / metal.band("expansion").value


def _cooled(
    ref: Reference,
    key: str,
    sizes_m: tuple[Array, Array, Array],
    jars: Array,
    jar: Mapping[str, Array],
    of_metal: Mapping[str, Array],
) -> ResidualMany:
    """Each jar on a metal, cooled; `sizes_m` are metal, front and back."""
    curve = ref.metal(key).curve
    set_c, factor = _set_and_factor(ref, key, jar, of_metal)
    m, f, b = sizes_m
    glass = ByPlate(glass_strain, (jars,))
    return cool_many(
        Plates(
            ("back", "metal", "front"),
            np.stack((b, m, f), axis=1),
            np.stack((jar["youngs_modulus"], of_metal["youngs_modulus"], jar["youngs_modulus"]), axis=1),
            np.stack((jar["poisson_ratio"], of_metal["poisson_ratio"], jar["poisson_ratio"]), axis=1),
            (glass, ByPlate(lambda t, k: curve(t) * k, (factor,)), glass),
            np.stack((set_c, np.full(len(jars), np.nan), set_c), axis=1),
            (None, HardeningYield(of_metal["flow_stress"], of_metal["hardening"], of_metal["flow_ratio_500c"]), None),
        )
    )


def main() -> int:
    """Write the file."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("file", type=Path)
    parser.add_argument("--glass", default="clear-hard-lead-free", help="key of a class")
    parser.add_argument("--studios", type=int, default=50)
    parser.add_argument("--tiles", type=int, default=20, help="of each studio")
    parser.add_argument("--design", choices=DESIGNS, default="mixed", help="which builds are fired")
    parser.add_argument("--mean", type=float, default=13.3, help="of the class, effective [ppm/K]")
    parser.add_argument("--spread", type=float, default=0.6, help="standard deviation between jars [ppm/K]")
    parser.add_argument("--liars", type=int, default=0, help="studios that tell the contrary of what they saw")
    parser.add_argument("--strips", type=int, default=0, help="of each studio's jar")
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    truth = Truth(given.mean, given.spread, liars=given.liars, strips=given.strips)
    with Reference(default_path()) as ref:
        rng = np.random.default_rng(given.seed)
        rows = studios(ref, given.glass, truth, given.studios, given.tiles, DESIGNS[given.design], rng)
    with given.file.open("w", encoding="utf-8", newline="") as file:
        count = written(rows, file)
    print(f"{count:,} rows of {given.studios:,} studios; {given.glass}: mean {given.mean:g}, spread {given.spread:g}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
