"""What cannot be: checks of figures against one another, against physics and against their own words.

Each module lists its checks as pairs: a function of the records and the problems, and the tables it reads.
"""

from __future__ import annotations

from refdb.curate.sense import (
    alloys,
    classes,
    contacts,
    curves,
    evidence,
    figures,
    generated,
    measures,
    orders,
    printed,
    published,
    selections,
    texts,
)
from refdb.curate.sense.groups import Check

__all__ = ["SENSE", "Check"]

SENSE: tuple[Check, ...] = (
    *figures.CHECKS,
    *orders.CHECKS,
    *printed.CHECKS,
    *curves.CHECKS,
    *alloys.CHECKS,
    *contacts.CHECKS,
    *classes.CHECKS,
    *published.CHECKS,
    *selections.CHECKS,
    *generated.CHECKS,
    *measures.CHECKS,
    *texts.CHECKS,
    *evidence.CHECKS,
)
