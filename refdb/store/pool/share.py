"""One's own tests as rows to share: classes in place of jars, months in place of days, signs in place of numbers."""

from __future__ import annotations

import hashlib
import hmac
import random
from collections import Counter
from collections.abc import Collection, Mapping
from typing import Any

from refdb.records.pooled import FIRING, STRIP, TILE, SharedRow
from refdb.store.workshop.file import Workshop
from refdb.store.workshop.keys import own_key
from refdb.store.workshop.schema import PREFIX

Row = dict[str, Any]


def shared_rows(
    shop: Workshop, known: Mapping[str, Collection[str]], secret: bytes
) -> tuple[list[SharedRow], Counter[str]]:
    """Every tile, strip and firing that can be shared, shuffled, and how many are left out, by reason.

    Parameters
    ----------
    shop : Workshop
    known : mapping
        Keys of the reference by kind of material.
    secret : bytes
        Of it the signs are made, so that they are the same again and tell nothing of what they stand for.
    """
    rows: list[SharedRow] = []
    left_out: Counter[str] = Counter()
    likes: dict[tuple[str, str], str] = {}

    def class_of(kind: str, key: str) -> str:
        if (kind, key) not in likes:
            like = key
            if key.startswith(PREFIX):
                own = shop.row(kind, own_key(key))
                like = (own or {}).get("like") or ""
            likes[kind, key] = like if like in known[kind] else ""
        return likes[kind, key]

    for kind in (TILE, STRIP, FIRING):
        for own in shop.listed(kind):
            glass, metal = class_of("glass", own["glass"]), class_of("metal", own["metal"])
            if not glass or not metal:
                left_out[f"no class is known of its {'metal' if glass else 'jar'}"] += 1
                continue
            signs = (
                _sign(secret, "studio", 16),
                _sign(secret, f"jar:{own['glass']}", 8),
                _sign(secret, f"{kind}:{own['number']}", 12),
            )
            rows.append(SharedRow(kind, *signs, glass, metal, **_readings(kind, own)))
    random.SystemRandom().shuffle(rows)
    return rows, left_out


def _readings(kind: str, own: Row) -> Row:
    found = {
        "metal_mm": own["metal_mm"],
        "front_mm": own["glass_mm"] if kind == STRIP else own.get("front_mm"),
        "month": own["date"][:7],
        "outcome": own["result"] if kind == FIRING else own.get("outcome"),
    }
    names = ("back_mm", "kiln_c", "minutes", "showed", "length_mm", "bow_mm", "bow_before_mm", "bow_error_mm")
    return found | {name: own.get(name) for name in names}


def _sign(secret: bytes, of: str, length: int) -> str:
    return hmac.new(secret, of.encode(), hashlib.sha256).hexdigest()[:length]
