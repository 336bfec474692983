"""What the shared tests of many studios say of each class of glass: rows to jars, and jars to its posterior."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from refdb.errors import RefdbError
from refdb.frozen import dataclass
from refdb.judge.limits import POOL_SOURCE
from refdb.judge.own.foretold import LATTICE, Foretold
from refdb.judge.own.pooled_strips import StripTables
from refdb.judge.own.tile_advice import BUILDS_MM
from refdb.judge.own.tile_update import GRID_PER_K, effective_prior, sizes_of, words_of
from refdb.records import POOLED, Glass, Metal, PropertyValue
from refdb.records.pooled import STRIP, TILE, SharedRow
from refdb.science.inference.jar_chances import Single, jar_log_likelihood, log_chances
from refdb.science.inference.pooled import Pooled, Prior, Whole, at_jars, expected_gain, moved_by, pool, prior_only
from refdb.science.inference.tiles import CHIPPED, CRAZED, FIT_WORDS, SOUND
from refdb.science.plate import Array

if TYPE_CHECKING:
    from refdb.store.reference import Reference

#: Expansions looked at [1/K].
POOL_GRID = np.arange(4.0, 20.0001, 0.1) * 1e-6
#: Tiles are one build where glass over metal is the same to this step: the plate knows ratios alone, and nobody
#: measures a fired coat better.
RATIO_STEP = 0.02
#: The class's mean has to be narrowed to this part of what was believed before for the pool to have taught anything.
TAUGHT = 0.75
#: The spread between jars counts as told once its band is narrowed to this part of what was believed before; our
#: judgement. Of 20 studios, mixed builds or strips do it, and thin builds alone do not.
SPREAD_TOLD = 0.5
#: A build whose outcomes lie so many standard deviations from what the model expects contradicts it.
CONTRADICTS = 3.5
#: The tables of so many builds are kept at a time; one takes about 3.5 MB.
_MOST_TABLES = 64
_KINDS = (SOUND, CRAZED, CHIPPED)
_BASE_M = 0.8e-3

Build = tuple[str, int, int]
Jar = tuple[str, str]


@dataclass(frozen=True)
class BuildSeen:
    """Tiles of one build: glass over metal in front and behind, what they showed, and what the model expects.

    `seen` and `expected` count sound, crazed and chipped; `apart` is how many standard deviations they differ where
    that is most.
    """

    metal: str
    front: float
    back: float
    seen: tuple[int, int, int]
    expected: tuple[float, float, float]
    apart: float


@dataclass(frozen=True)
class BuildToFire:
    """The build that a studio's next jar would tell most by [mm], what one tile of it tells, and one of the standard
    build [bit]."""

    metal: str
    metal_mm: float
    front_mm: float
    back_mm: float
    gain_bit: float
    standard_bit: float


@dataclass(frozen=True)
class ClassLearnt:
    """The posterior of one class from a pool, with what it was before and what it rests on.

    `jar` holds value, low and high of the next jar of the class, and `deviation` its standard deviation; all expansions
    are effective ones, over 20 to 400 °C [1/K]. `studios` are signs in the order of `pooled`. `silent` counts rows that
    say nothing of the expansion, `left_out` tells of rows that cannot be worked out, by reason.
    """

    glass: Glass
    before: Pooled
    pooled: Pooled
    studios: tuple[str, ...]
    studio_of_jar: Whole
    tiles: int
    strips: int
    silent: int
    left_out: Mapping[str, int]
    builds: tuple[BuildSeen, ...]
    next_build: BuildToFire | None

    @property
    def taught(self) -> bool:
        """Whether the mean is narrowed enough for the class's band to be replaced."""
        return self.pooled.mean_deviation < TAUGHT * self.before.mean_deviation

    @property
    def spread_told(self) -> bool:
        """Whether it is told how far jars differ; where not, the next jar's band leans on the belief before."""
        after, before = (of.spread[2] - of.spread[1] for of in (self.pooled, self.before))
        return after < SPREAD_TOLD * before

    @property
    def beyond_prior(self) -> bool:
        """Whether the mean went where the belief before has less than a hundredth of its weight."""
        place = moved_by(self.pooled, self.before)
        return not 0.01 <= place <= 0.99

    @property
    def contradicting(self) -> tuple[BuildSeen, ...]:
        """Builds whose outcomes the model does not expect, the worst first."""
        return tuple(sorted((b for b in self.builds if b.apart > CONTRADICTS), key=lambda b: -b.apart))

    @property
    def standing_out(self) -> tuple[tuple[str, float, float], ...]:
        """Studios whose shift lies off nought with all its band, and the band's ends [Pa]."""
        shifts = zip(self.studios, self.pooled.shift_pa.tolist(), strict=True)
        found = [(s, low, high) for s, (_, low, high) in shifts if low > 0 or high < 0]
        return tuple(sorted(found, key=lambda one: -abs(one[1] + one[2])))

    @property
    def unlike(self) -> tuple[tuple[str, float], ...]:
        """Studios that more likely than not tell nothing, or of which all jars are of another glass, with that chance.

        Such a studio hardly moves the class.
        """
        alike = np.ones(len(self.studios))
        np.multiply.at(alike, self.studio_of_jar, self.pooled.stray)
        found = np.minimum(self.pooled.careless + alike, 1.0)
        both = ((s, float(p)) for s, p in zip(self.studios, found, strict=True) if p > 0.5)
        return tuple(sorted(both, key=lambda one: -one[1]))


def pool_prior(glass: Glass) -> Prior:
    """The belief before of a class: its band for the mean; classes without a figure are not asked for."""
    row = glass.value("expansion")
    assert row is not None
    return Prior(POOL_GRID, np.interp(POOL_GRID, GRID_PER_K, effective_prior(row)))


def classes_learnt(ref: Reference, rows: Sequence[SharedRow], only: Sequence[str] = ()) -> list[ClassLearnt]:
    """The posterior of each class that a pool has rows of, in order of key.

    Parameters
    ----------
    ref : Reference
        For classes and metals as the reference has them.
    rows : sequence of SharedRow
        Each test once.
    only : sequence of str
        Keys of classes; all where empty.
    """
    by_class: dict[str, list[SharedRow]] = {}
    for row in rows:
        if not only or row.glass in only:
            by_class.setdefault(row.glass, []).append(row)
    found = []
    for key in sorted(by_class):
        glass = ref.material(key, "glass")
        assert isinstance(glass, Glass)
        if glass.value("expansion") is not None:
            found.append(class_learnt(ref, glass, by_class[key]))
    return found


def class_learnt(ref: Reference, glass: Glass, rows: Sequence[SharedRow]) -> ClassLearnt:
    """The posterior of one class from rows of it."""
    prior = pool_prior(glass)
    work = Folded(ref, glass, prior, rows)
    before = prior_only(prior)
    logs, studio, careless = work.arrays()
    posterior = pool(prior, logs, studio, careless) if work.jars else before
    return ClassLearnt(
        glass,
        before,
        posterior,
        tuple(work.studios),
        studio,
        sum(sum(n.values()) for n in work.tiles.values()),
        sum(count for count, _ in work.strips.values()),
        work.silent,
        dict(work.left_out),
        tuple(work.builds_seen(posterior)),
        work.next_build(posterior),
    )


class Folded:
    """The rows of one class, folded: by jar, how often each outcome of each build was seen.

    `tables` may hold what the plate foretells of builds, from other rows of the same class and metals; it is filled.
    """

    def __init__(
        self,
        ref: Reference,
        glass: Glass,
        prior: Prior,
        rows: Sequence[SharedRow],
        tables: dict[Build, dict[str, Single]] | None = None,
    ) -> None:
        self.glass, self.prior = glass, prior
        self.tiles: dict[Jar, Counter[tuple[Build, str]]] = {}
        #: Of the strips of each jar how many there are, and the logarithm of their chance in each shared draw.
        self.strips: dict[Jar, tuple[int, Single]] = {}
        self.left_out: Counter[str] = Counter()
        self.silent = 0
        #: Of the tiles of a build the sums of glass over metal, front and back, and how many there are.
        self._sums: dict[Build, Array] = {}
        self._tables = {} if tables is None else tables
        self._metals = self._usable(ref, {r.metal for r in rows if r.kind in (TILE, STRIP)})
        self._bent = StripTables(glass, self._metals, prior.grid)
        for row in rows:
            self._fold(row)
        self.jars = sorted({*self.tiles, *self.strips})
        self.studios = sorted({studio for studio, _ in self.jars})

    def _usable(self, ref: Reference, keys: set[str]) -> dict[str, Metal]:
        found = {}
        for key in sorted(keys):
            try:
                metal = ref.metal(key)
                # Told apart here, so that nothing fails later on.
                Foretold(self.glass, [metal], self.prior.grid).tile(key, _BASE_M, 0.3e-3, 0.3e-3)
            except RefdbError:
                continue
            found[key] = metal
        return found

    def _fold(self, row: SharedRow) -> None:
        jar = row.studio, row.jar
        word = words_of(row.tile, FIT_WORDS) if row.kind == TILE else ""
        if not word and row.kind != STRIP:
            self.silent += 1
        elif row.metal not in self._metals:
            self.left_out[f"figures of {row.metal} are not known"] += 1
        elif row.kind == STRIP:
            logs = self._bent.log_likelihood(row)
            if logs is None:
                self.left_out["a strip whose bow no glass gives"] += 1
            else:
                count, before = self.strips.get(jar, (0, np.float32(0)))
                self.strips[jar] = count + 1, before + logs
        else:
            self.tiles.setdefault(jar, Counter())[self._build(row), FIT_WORDS[word]] += 1

    def _build(self, row: SharedRow) -> Build:
        metal, front, back = sizes_of(row.tile)
        build = row.metal, round(front / metal / RATIO_STEP), round(back / metal / RATIO_STEP)
        self._sums[build] = self._sums.get(build, 0) + np.array([front / metal, back / metal, 1.0])
        return build

    def _ratios(self, build: Build) -> tuple[float, float]:
        """Glass over metal, front and back: the mean of its tiles."""
        front, back, count = self._sums[build].tolist()
        return front / count, back / count

    def table(self, build: Build) -> dict[str, Single]:
        """Logarithm of the chance of each outcome of a build."""
        if build not in self._tables:
            while len(self._tables) >= _MOST_TABLES:
                del self._tables[next(iter(self._tables))]
            metal, *_ = build
            # A Foretold remembers what it told; the table of logarithms is kept here instead.
            plates = Foretold(self.glass, list(self._metals.values()), self.prior.grid, LATTICE, even=True)
            front, back = self._ratios(build)
            told = plates.tile(metal, _BASE_M, front * _BASE_M, back * _BASE_M)
            self._tables[build] = log_chances(told, self.prior.shifts[0], kinds=_KINDS)
        return self._tables[build]

    def arrays(self) -> tuple[Single, Whole, Array]:
        """Log-likelihood of each jar (j, shifts, n), its studio, and what each careless studio's outcomes weigh."""
        number = {s: k for k, s in enumerate(self.studios)}
        careless = np.zeros(len(self.studios))
        logs = np.zeros((len(self.jars), len(self.prior.shifts[0]), len(self.prior.grid)), dtype=np.float32)
        known: dict[tuple[tuple[tuple[Build, str], int], ...], Single] = {}
        for k, jar in enumerate(self.jars):
            seen = tuple(sorted(self.tiles.get(jar, Counter()).items()))
            strips = self.strips.get(jar)
            if strips or seen not in known:
                # Tiles and strips of one jar share its draws.
                told = [(self.table(b)[word], n) for (b, word), n in seen]
                logs[k] = jar_log_likelihood([*told, *([(strips[1][:, None, :], 1)] if strips else [])])
            else:
                logs[k] = known[seen]
            if not strips:
                known[seen] = logs[k]
            careless[number[jar[0]]] += sum(n for _, n in seen) * math.log(1 / len(_KINDS))
            if strips:
                most = strips[1].max()
                careless[number[jar[0]]] += float(most + np.log(np.exp(strips[1] - most).mean()))
        return logs, np.array([number[s] for s, _ in self.jars], dtype=np.intp), careless

    def builds_seen(self, posterior: Pooled) -> list[BuildSeen]:
        """Each build with what its tiles showed, and what was to be expected of jars of the class."""
        by_build: dict[Build, dict[Jar, Counter[str]]] = {}
        for jar, seen in self.tiles.items():
            for (build, word), n in seen.items():
                by_build.setdefault(build, {}).setdefault(jar, Counter())[word] += n
        found = []
        weights = posterior.new_jar / posterior.new_jar.sum()
        for build in sorted(by_build):
            mean, square = (p @ weights for p in at_jars(self.prior, self.table(build)))
            counts = [[of[word] for word in _KINDS] for of in by_build[build].values()]
            totals = np.array([sum(c) for c in counts], dtype=float)
            seen_all = np.sum(counts, axis=0)
            expected = mean * totals.sum()
            # Tiles of one jar go together, so what jars differ by does not average out among them.
            spread = np.maximum(square - mean**2, 0.0)
            variance = (mean - square) * totals.sum() + spread * (totals**2).sum()
            apart = np.abs(seen_all - expected) / np.sqrt(np.maximum(variance, 1e-9) + 1.0)
            found.append(
                BuildSeen(
                    build[0],
                    build[1] * RATIO_STEP,
                    build[2] * RATIO_STEP,
                    (int(seen_all[0]), int(seen_all[1]), int(seen_all[2])),
                    (float(expected[0]), float(expected[1]), float(expected[2])),
                    float(apart.max()),
                )
            )
        return found

    def next_build(self, posterior: Pooled) -> BuildToFire | None:
        """The build of a metal that the pool has which tells most of the class; None where there is none."""
        gains = {}
        # For telling builds apart the usual draws do, at a fifth of the time.
        plates = Foretold(self.glass, list(self._metals.values()), self.prior.grid)
        for metal in self._metals:
            for sizes in BUILDS_MM:
                base, front, back = (x * 1e-3 for x in sizes)
                told = plates.tile(metal, base, front, back)
                chances = log_chances(told, self.prior.shifts[0], kinds=_KINDS)
                gains[metal, *sizes] = expected_gain(posterior, at_jars(self.prior, chances)[0])
        if not gains:
            return None
        best = max(gains, key=lambda build: gains[build])
        return BuildToFire(*best, gains[best], gains[best[0], 0.8, 0.3, 0.3])


def figure_of(learnt: ClassLearnt) -> PropertyValue:
    """The next jar of a class as a figure that verdicts take in the place of the class's band."""
    value, low, high = (round(x * 1e6, 2) for x in learnt.pooled.jar)
    return PropertyValue(
        "expansion",
        value,
        low,
        high,
        f"{value:.2f} ({low:.2f}-{high:.2f})",
        "ppm/K",
        20.0,
        400.0,
        POOLED,
        "computed",
        POOL_SOURCE,
        f"{len(learnt.studios)} studios, {learnt.tiles + learnt.strips} tiles",
        note="effective expansion of the next jar of the class, from shared test tiles; 5 to 95 %",
    )
