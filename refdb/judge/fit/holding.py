"""A build and how often it holds, with the command that gives its verdict."""

from __future__ import annotations

from typing import Any

from refdb.frozen import dataclass
from refdb.judge.fit.build import Build, firings
from refdb.judge.fit.question import Question
from refdb.judge.reason import Triple, outcome_of


@dataclass(frozen=True)
class Holding:
    """A build that holds in nine of ten draws: `shares` of the outcomes, and keys of glasses that hold so as well.

    The shares are those of the glass that holds in the fewest draws.
    """

    question: Question
    shares: Triple
    alike: tuple[str, ...] = ()
    metal_text: str = ""

    @property
    def outcome(self) -> str:
        """The verdict's."""
        return outcome_of(self.shares)

    @property
    def holds(self) -> float:
        """The share of the draws that hold."""
        return 1.0 - self.shares[2]

    @property
    def fires(self) -> int:
        """Firings of the build."""
        return len(firings(self.question.build))

    @property
    def asked(self) -> dict[str, str]:
        """The build as `suits` takes it, by name of option; what is usual is left away."""
        build, usual = self.question.build, Build()
        texts = {"metal_thickness": self.metal_text or _mm(build.metal_m.value)}
        texts |= {"front": _mm(build.front_m.value), "back": _mm(build.back_m.value)}
        if build.first_m != usual.first_m:
            texts["first"] = _mm(build.first_m)
        if build.order:
            texts["order"] = build.order
        if build.shape != usual.shape:
            texts["shape"] = build.shape
        if build.kiln_most_c != usual.kiln_most_c:
            texts["kiln_most"] = f"{build.kiln_most_c:.0f}C"
        return texts

    @property
    def command(self) -> str:
        """The command that gives the verdict on it."""
        options = (
            f"--{name.replace('_', '-')} {f'{value!r}' if ' ' in value else value}".replace("'", '"')
            for name, value in self.asked.items()
        )
        return " ".join(("refdb suits", self.question.glass.key, self.question.metal.key, *options))

    def row(self) -> dict[str, Any]:
        """The build as plain values: thicknesses in mm."""
        build = self.question.build
        return {
            "glass": self.question.glass.key,
            "metal": self.question.metal.key,
            "metal_mm": round(build.metal_m.value * 1e3, 4),
            "first_mm": round(build.first_m * 1e3, 4),
            "front_mm": round(build.front_m.value * 1e3, 4),
            "back_mm": round(build.back_m.value * 1e3, 4),
            "order": build.order,
            "shape": build.shape,
            "fires": self.fires,
            "verdict": self.outcome,
            "holds": round(self.holds, 4),
            "alike": " ".join(self.alike),
            "command": self.command,
        }


def _mm(length_m: float) -> str:
    return f"{round(length_m * 1e3, 4):g}mm" if length_m else "0"
