"""Answers that are rules of practice: of a subject, of the rules that come nearest, of a number of pieces."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from refdb.ask.answers import Answered
from refdb.ask.said import CAUTIONS, CHILD, EATEN, FLAME, GLASS, TELLS, Said
from refdb.frozen import dataclass, replace
from refdb.records.printed import hazard_named
from refdb.words import ended, lower_first

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from refdb.records.rules import Topic
    from refdb.store.reference import Reference
    from refdb.store.search import Hit

_MOST, _LOOKED_AT = 4, 20
#: So many of the rules that come nearest are told.
_MOST_RULES = 3
#: What share of a question a rule has to hold to answer it, and of words that ask nothing.
_ENOUGH, _ENOUGH_OF_WORDS = 0.5, 0.7
#: The same of a sentence with a word that stands nowhere: of the moon, of a cat.
_ENOUGH_OF_STRANGE, _HALF = 0.65, 0.5
#: What is said of a flame holds for a flame alone, and what is said of a way of working for that way.
_TORCH, _WAYS, _UNASKED = "torch", "ways of working", 0.6
_NEVER_LEFT_OUT = ("torch-cannot", "pickle-enamelled")
#: What is said of any stone first: which of them never.
_STONES, _NEVER = "stones", "stones-never"
#: Subjects of practice that are about children and classes.
_WITH_CHILDREN = ("children at the bench", "lessons")
#: So many words, and such a share of them in its names, tell of a fault that no rule is found for.
_FEWEST_OF_A_FAULT, _ENOUGH_ALONE = 2, 0.6
#: Words that stand in what is told of any work, as roots; a hazard that shares no other bears on none.
_OF_ANY_RULE = frozenset(
    ("enamel", "glass", "piec", "coat", "kiln", "fir", "work", "metal", "hot", "heat", "wat", "wear", "keep", "dry",
     "min", "hand", "leav", "hold", "copp", "copper", "silv", "silver", "clean", "first", "water", "small", "old",
     "fine", "open", "year", "time", "let", "skin", "use", "lay", "gold", "face", "powd", "powder", "clay", "hard")
)  # fmt: skip
#: A hazard whose work is not named has so many words in common with what is told.
_FEWEST_OF_CARE = 2
#: A shorter word that stands alone is mostly another: old, not old glass.
_LONG_WORD = 5
#: The next rules are told where they are worth this share of the first: of its subject, and of another.
_NEXT, _NEXT_ELSEWHERE = 0.7, 0.9
#: What a rule is worth more for a word in its key, for a figure of the kind that is asked, and for its subject.
_IN_KEY, _OF_KIND, _OF_SUBJECT = 0.5, 0.2, 0.3
#: What it is worth more where people ask for it in words that the sentence holds, all of them: by their share of it.
_CALLED = 1.5
#: From this share on a rule is asked for by name; less of a question has to be met by a rule of a subject it names.
_BY_NAME, _ENOUGH_OF_SUBJECT, _ENOUGH_OF_ITS_WORDS = 0.6, 0.25, 0.45
#: Units of what is asked with a word, and what the figure is called then.
_KINDS = tuple(
    (Said(rf"\b({words})\b"), frozenset(units.split()), Said(called))
    for words, units, called in (
        (r"how (deep|shallow)|depth", "mm um", "deep|depth"),
        (r"how (thick|thin)|thickness|gau?ge", "mm um gauge", "thick|gauge"),
        (r"how (hot|warm)|temperature|heat|degrees", "degC", "temperature|setting|plate|bath"),
        (r"how (long|often|soon|slow(ly)?|fast)|when|minutes|hours", "s min h day months", "time|interval"),
        (r"how (big|large|wide|small|far)|size|width|space", "mm cm cm**2", "area|width|gap|distance|spacing"),
        (r"how (high|tall)|height", "mm cm", "height"),
        (r"how (fine|coarse)|mesh|grain|grit", "um grit", "grain|grit|mesh|aperture"),
        (r"how many", "times", "fires|lays|pieces|rounds"),
        (r"how (strong|much)", "percent g ml/cm**2 g/cm**2", "share|mass|strength"),
    )
)


def of_practice(ref: Reference, topic: Topic, words: str) -> Answered | None:
    """How something is done: the subject in a sentence, its rules that hold the words first, and what may hurt."""
    from refdb.store.practice_search import rules_of

    whole = rules_of(ref, topic.topic)
    near = [r.rule for r in _ranked(ref, words) if r.rule["topic"] == topic.topic]
    # What was asked comes first; what a subject stands on is never left out.
    head = whole[:1] if whole[0]["place"] else []
    first = _head(ref, topic, words)
    rules = list({r["key"]: r for r in (*first, *near[: _MOST - 2], *head, *near, *whole)}.values())
    lines = [ended(topic.lead), *(ended(r["statement"]) for r in rules[:_MOST])]
    if words.startswith("why"):
        lines[2:2] = [f"Why: {lower_first(ended(r['reason']))}" for r in rules[:1] if r["reason"]]
    hazards, care = _care(ref, topic, words, lines)
    return Answered(
        "practice", f"practice: {topic.topic}", (*lines, *care), f'refdb practice "{topic.topic}"',
        f"/practice/{topic.key}", (topic.key, *(r["key"] for r in rules[:_MOST]), *hazards),
    )  # fmt: skip


@dataclass(frozen=True)
class _Ranked:
    """A rule: the words that were asked, how much of them it holds, and its worth beside the first.

    `apart` where no rule holds all of them; `called` is how much of the sentence is words in which people ask for it;
    `of_subject` whether it names its subject, `strange` whether a word of it stands nowhere.
    """

    rule: dict[str, Any]
    words: tuple[str, ...]
    share: float
    worth: float
    apart: bool
    called: float
    of_subject: bool
    strange: bool


def _ranked(ref: Reference, words: str, wide: bool = True) -> list[_Ranked]:
    """The rules that hold words of a sentence, those first that tell what is asked in the unit that it asks for.

    Where it is wide they are also called by words that mean the same.
    """
    from refdb.store.search import search
    from refdb.store.search_words import EVERYWHERE, root, tokens
    from refdb.store.topics import Called, named_within

    found = search(ref, words, ("practice_rules",), _LOOKED_AT, idle=EVERYWHERE)
    by_key = _rules_of(ref, [hit.key for hit in found.hits])
    asked = {root(w) for w in tokens(words)}
    kinds = [(units, called) for said, units, called in _KINDS if said.may_stand(words) and said.search(words)]
    subjects, names = named_within(ref, words), Called(ref, words, wide)
    ways = {str(r["topic"]) for r in ref.rows("SELECT topic FROM practice_topics WHERE part = ?", _WAYS)}
    held: list[tuple[float, float, Hit, dict[str, Any]]] = []
    for hit in found.hits:
        rule = by_key[hit.key]
        of_topic = {root(w) for w in tokens(str(rule["topic"]))}
        key = [root(w) for w in hit.key.split("-") if root(w) not in of_topic]
        named = sum(w in asked for w in key) / len(key) if key else 0.0
        of_kind = sum(
            (str(rule["unit"] or "") in units) + called.search(f"{rule['quantity'] or ''}") for units, called in kinds
        )
        called = names.share(str(rule["asked"] or ""))
        more = 1.0 + _IN_KEY * named + _OF_KIND * of_kind + _OF_SUBJECT * (rule["topic"] in subjects) + _CALLED * called
        of_a_way = rule["topic"] in ways and rule["topic"] not in subjects and not called
        if of_a_way or (rule["topic"] == _TORCH and not FLAME.search(words)):
            more *= _UNASKED
        held.append((hit.share * more, called, hit, rule))
    held.sort(key=lambda h: -h[0])
    best = (held[0][0] if held else 0.0) or 1.0
    return [
        _Ranked(
            rule,
            found.words,
            hit.share,
            worth / best,
            not found.whole,
            called,
            rule["topic"] in subjects,
            bool(found.nowhere),
        )
        for worth, called, hit, rule in held
    ]


def _head(ref: Reference, topic: Topic, words: str) -> list[dict[str, Any]]:
    """The rule that comes before all that is said on this subject, where there is one: of glass, or of every flame."""
    if topic.topic == _STONES:
        return ref.rows("SELECT * FROM practice_rules WHERE key = ?", _NEVER)
    if topic.topic != _TORCH and not GLASS.search(words):
        return []
    return ref.rows("SELECT * FROM practice_rules WHERE topic = ? AND key IN (?, ?)", topic.topic, *_NEVER_LEFT_OUT)


def _care(ref: Reference, topic: Topic, words: str, told: Sequence[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The weightiest hazards of a subject that bear on what was asked and told: their keys, the line that names them.

    Asbestos in old kilns says nothing to one who asks how a hole is drilled.
    """
    if not ref.rows("SELECT 1 FROM hazards WHERE instr(trigger, ?) LIMIT 1", topic.topic):
        return (), ()
    from refdb.judge.cautions import hazards_of_practice
    from refdb.store.topics import telling_all

    about = telling_all(" ".join((words, *told))) - _OF_ANY_RULE
    held = [(h, about & telling_all(h.step)) for h in hazards_of_practice(ref.hazards(), {topic.topic})]
    held = [
        (h, work) for h, work in held if work or len(about & telling_all(f"{h.hazard} {h.caution}")) >= _FEWEST_OF_CARE
    ]
    # What is named as work comes before what only has words in common with it.
    hazards = [h for h, _ in sorted(held, key=lambda one: not one[1])]
    told_of = (f"Take care: {'; '.join(hazard_named(h) for h in hazards[:2])}.",) if hazards else ()
    return tuple(h.key for h in hazards[:3]), told_of


def of_rules(
    ref: Reference, words: str, sure: bool, fewest: int = 3, found: list[_Ranked] | None = None
) -> Answered | None:
    """The rules of practice that hold most of a sentence, each in full; None where none holds enough of it.

    Parameters
    ----------
    words : str
        The sentence.
    sure : bool
        Whether it asks; of mere words more has to be met.
    fewest : int
        How many words there have to be where it does not ask.
    found : list of _Ranked, optional
        Its rules, where they have been looked up before.
    """
    from refdb.store.topics import named_topic

    ranked = _ranked(ref, words) if found is None else found
    if not ranked or (not sure and len(ranked[0].words) < fewest and ranked[0].called < _BY_NAME):
        return None
    first = ranked[0]
    named = first.called >= _HALF if first.strange else first.of_subject or first.called > 0
    named = named and (sure or not FLAME.search(words))
    least = (_ENOUGH_OF_SUBJECT, _ENOUGH_OF_ITS_WORDS) if named else (_ENOUGH, _ENOUGH_OF_WORDS)
    enough = least[0] if sure else least[1]
    if first.strange and not named:
        enough = max(enough, _ENOUGH_OF_STRANGE)
    if first.called < _BY_NAME and (
        first.share < enough or (len(first.words) == 1 and (first.share < 1.0 or len(first.words[0]) < _LONG_WORD))
    ):
        return None
    kept = [r for r in ranked[1:] if r.worth >= (_NEXT if r.rule["topic"] == first.rule["topic"] else _NEXT_ELSEWHERE)]
    rules = [r.rule for r in (first, *kept[: _MOST_RULES - 1])]
    topic = named_topic(ref, str(rules[0]["topic"]))
    if topic is None:
        return None
    if sure and named and not first.called and first.share < _ENOUGH:
        # No rule holds enough of what was asked of a subject: the whole of it is told.
        return of_practice(ref, topic, words)
    lines = [ended(r["statement"]) for r in rules]
    always = [r for r in _head(ref, topic, words) if r not in rules]
    if rules[0]["reason"]:
        lines.insert(1, f"Why: {lower_first(ended(rules[0]['reason']))}")
    lines = [*(ended(r["statement"]) for r in always), *lines]
    hazards, care = _care(ref, topic, words, lines)
    return Answered(
        "practice", f"practice: {topic.topic}", (*lines, *care),
        f'refdb practice "{topic.topic}"', f"/practice/{topic.key}",
        (topic.key, *(str(r["key"]) for r in (*always, *rules)), *hazards),
        more={"share": first.share, "called": first.called}, apart=first.apart and first.called < _BY_NAME,
    )  # fmt: skip


def of_fault(ref: Reference, words: str, rules: Answered | None, fewest: int = _FEWEST_OF_A_FAULT) -> Answered | None:
    """The fault that words tell of, where its names hold more of them than rules do that were found for them.

    Of a piece that was made they need not hold more. Where rules were asked for by name, and of a single word, no fault
    is meant.
    """
    from refdb.ask.answers import of_faults
    from refdb.store.fault_search import IDLE_OF_FAULTS
    from refdb.store.search import search
    from refdb.store.search_words import IDLE, tokens

    tells = TELLS.search(words)
    held = 0.0 if rules is None or tells else rules.more.get("share")
    telling = [w for w in tokens(words) if w not in IDLE and w not in IDLE_OF_FAULTS]
    if held is None or not telling or (rules is None and len(tokens(words)) < fewest):
        return None
    seen = search(ref, words, ("symptoms",), _MOST, body=False, idle=IDLE_OF_FAULTS).hits
    least = _ENOUGH if rules is not None or tells else _ENOUGH_ALONE
    fault = of_faults(ref, words) if max((h.share for h in seen), default=0.0) > max(held, least) else None
    if fault is None or rules is None:
        return fault
    return replace(fault, lines=(*fault.lines, *rules.lines[:1]), keys=(*fault.keys, *rules.keys))


def of_called(ref: Reference, words: str, wide: bool) -> Answered | None:
    """The rule that people ask for in most of these words, before any other reading of them; None where none is.

    Words that mean the same count where it is wide: of a sentence that names a material they may be of another.
    Where cautions are asked for, of what is eaten from, and of a child, those come first.
    """
    ranked = [] if EATEN.search(words) or CAUTIONS.search(words) else _ranked(ref, words, wide)
    if not ranked or ranked[0].called < _BY_NAME:
        return None
    if CHILD.search(words) and ranked[0].rule["topic"] not in _WITH_CHILDREN:
        return None
    return of_rules(ref, words, True, found=ranked)


def of_usual_fire(ref: Reference) -> Answered:
    """How hot and how long enamel is fired where neither glass nor metal is named."""
    return _of_keys(
        ref, "how hot and how long enamel is fired", ("fire-setting", "fire-short-hot", "look-right-clear-copper"),
        "The maker's sheet governs; fire a test tile.", 'refdb practice "firing"', "firing",
    )  # fmt: skip


def of_coats(ref: Reference) -> Answered:
    """How thick glass lies: in all, against its metal, and of one coat."""
    return _of_keys(
        ref, "how thick the glass is", ("total-fired", "enamel-half-metal", "coat-fired", "counter-balance"),
        "Fire a test tile before the piece.", 'refdb practice "thickness"', "thickness",
    )  # fmt: skip


def of_load(ref: Reference) -> Answered:
    """How many pieces go into the kiln at once: rules of thumb, and the command that counts."""
    return _of_keys(
        ref, "how many pieces go into the kiln at once", ("lesson-load", "kiln-gap"),
        "For pieces of one size in your kiln the command below counts them; change its sizes.",
        'refdb kiln 12 pendants --size "30x24 mm" --floor "120x100 mm"', "lessons",
    )  # fmt: skip


def of_amounts(ref: Reference) -> Answered:
    """How much powder so many pieces take: rules of thumb, and the command that counts."""
    return _of_keys(
        ref, "how much powder so many pieces take", ("coat-mass", "lesson-amounts"),
        "For pieces of one size the command below counts the powder; change its sizes.",
        'refdb amounts 12 pendants --size "30x24 mm" --coats "hard clear both"', "amounts",
    )  # fmt: skip


def _of_keys(ref: Reference, meant: str, keys: tuple[str, ...], end: str, command: str, topic: str) -> Answered:
    """What certain rules say, in this order, and a sentence after them."""
    rows = _rules_of(ref, keys)
    held = tuple(key for key in keys if key in rows)
    lines = (*(ended(rows[key]["statement"]) for key in held), end)
    return Answered("practice", meant, lines, command, f"/practice/{topic}", held)


def _rules_of(ref: Reference, keys: Collection[str]) -> dict[str, dict[str, Any]]:
    """The rules of these keys, as many as there are."""
    marks = ", ".join("?" * len(keys))
    return {r["key"]: r for r in ref.rows(f"SELECT * FROM practice_rules WHERE key IN ({marks})", *keys)}
