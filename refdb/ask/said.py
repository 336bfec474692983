"""The words by which a sentence tells what it asks."""

from __future__ import annotations

import re
from functools import cached_property


class Said:
    """Words looked for in a sentence; made ready when they are first looked for, as most searches ask nothing."""

    def __init__(self, words: str) -> None:
        self.words = words

    def may_stand(self, text: str) -> bool:
        """Whether a text has the letters that one of them begins with, which is told without making them ready."""
        starts = (re.match(r"[a-z]+(?![?*])", one.removeprefix(r"\b(")) for one in self.words.split("|"))
        return any(start is None or start.group() in text for start in starts)

    @cached_property
    def _ready(self) -> re.Pattern[str]:
        return re.compile(self.words)

    def search(self, text: str) -> bool:
        """Whether they stand in a text."""
        return self._ready.search(text) is not None

    def gone(self, text: str) -> str:
        """A text without them."""
        return self._ready.sub(" ", text)

    def parted(self, text: str) -> tuple[str, str, str]:
        """A text before them, they themselves, and they with all after; the whole text where they are not in it."""
        found = self._ready.search(text)
        return (text[: found.start()], found.group(), text[found.start("deed") :]) if found else (text, "", "")

    def fullmatch(self, text: str) -> bool:
        """Whether a text is one of them."""
        return self._ready.fullmatch(text) is not None


ASKS = Said(
    r"^(doe|does|do|did|can|could|will|would|is|are|may|should|which|what|whats|any|how|must|has|have|am|was|why|where|when|my|"
    r"differences?|(under|in|at|from|to|on|with|for|by) (what|which)|"
    r"(density|expansion|coe|shrinkage|softening point) of)\b|\?|\b(how|what) (do|can|should) (i|we|you)\b|"
    r"\bhow (much|many|long|hot|thick|thin|deep|big|often|far|high|fine)\b"
)
WRONG = Said(
    r"\b(why|wrong|problem|happened|ruined|went|came|gone|keeps?|cracked|crazed|chipped|bubbl\w+|crack(s|ing)?|pop(s|ped)?|"
    r"peel(s|ed)?|ping(s|ed|ing)?|sag(s|ged|ging)?|scratches|flak\w+|"
    r"turned|cloudy|pitted|warped|fell|lifted|blister\w*|craz\w+|stain\w*|spots?(?! test)|faded)\b"
)
#: Asks why something is done, or for another thing than a stain or a crack.
NO_FAULT = Said(
    r"^why (do|should|must|would) (i|we|you|one) (need|have to|use|want|bother|put|wash|dry|stone|pickle|clean|anneal|"
    r"counter)\b|^why (is|are) .*\b(needed|necessary|used|important|better|best)\b|stained glass|\bwithout \w+ing\b"
)
#: Asks why something is so of itself, not on a piece of one's own.
WHY = Said(
    r"^why (do|does|is|are|can|should|must|will) (?!my |this |it |i |we |there )|^how (do|does|is|are) (?!i |my )"
)
#: Asks; a sentence that only tells of my piece or the enamel does not.
OUTRIGHT = Said(
    r"\?|^(doe|does|do|did|can|could|will|would|is|are|may|should|which|what|whats|any|how|must|has|have|was|were|"
    r"why|where|when|who|tell)\b|\b(how|what|which|why) (do|can|should|to|is|are|does)\b"
)
#: Tells of a piece that was made: what went wrong with it.
TELLS = Said(r"^(my|the|our|it|its|i|this|all|some) \w+ \w|\w (in|on|of|over|under|through) (my|the|our) \w")
#: After what was seen, asks what to do.
SO_HOW = Said(
    r"(?<=\w)[,;.]? (and |so |but )?(?P<deed>how (do|can|should|to)|can (i|we|it)|what (do|should|can) (i|we)) "
)
#: Asks how what goes wrong is kept from it.
AVOIDS = Said(
    r"\b(stop|avoid|prevent|keep|without (it|them|the \w+)) .*\b"
    r"(crack|craz|chip|peel|flak|bubbl|warp|blister|pitt?|stain|fad|pop)(s|ed|ing|e|es)?\b"
)
#: Asks what something that went wrong comes from.
CAUSED = Said(r"\b(what (causes|caused)|causes? of|reasons? for|how come|what brings)\b")
HURTS = Said(
    r"\b(safe|safely|unsafe|safety|danger\w*|toxic|poison\w*|harm\w*|hurt\w*|fumes?|breath\w*|inhale\w*|hazard\w*|"
    r"risks?|mask|respirator|ventilat\w*|pregnan\w*|health|caution\w*|explode|indoors?|kitchen|at home|gloves)\b"
)
#: Asks for them by their name, alone or before what they are of.
CAUTIONS = Said(
    r"\b(cautions?|precautions?|hazards?|dangers?|risks?|safety)( (of|for|with|about|in|on)( (a|an|the|my))?)?\b"
)
EYES = Said(
    r"\b(goggles|eyewear|eyesight|eye protection|eyes|(glasses|shades?) (for|to) (look|see|watch|protect)\w*|"
    r"(glasses|shades?) (should|do|must|can) (i|we|you) (wear|put on|use to look)|wear \w* ?(glasses|shades))\b"
)
#: Tells that somebody or an animal has taken something in; it comes before all else, whatever else is named.
SWALLOWED = Said(
    r"\bswallow(ed|ing)? (a |an |the |some |my |bits? of |piece of )*"
    r"(enamel|glass|powder|frit|dust|acid|pickle|clay|flux|water)\b|"
    r"\b(is|was|been|gets|got) swallowed\b|"
    r"\b(i|we|he|she|they|who|child|kid|baby|toddler|boy|girl|son|daughter|pupil|student|someone|somebody|dog|cat|puppy|"
    r"kitten|pet|bird|parrot|rabbit|hamster|hen|chicken)s? (just |has |have |had |may |might |accidentally |been )*"
    r"(ate|eats|eaten|eating|drank|drunk|lick(ed|s|ing)?|chew(ed|s|ing)?|swallow(ed|s|ing)?)\b"
)
#: Tells of feeling ill.
ILL = Said(
    r"\b(headaches?|head (hurts|aches)|dizz(y|iness)|nause(a|ous)|vomit(ed|ing)?|fainted|fainting|passed out|"
    r"feel(s|ing)? (so |very |a bit )?(sick|ill|unwell|faint|queasy|poorly)|short of breath)\b"
)
#: Asks for what may hurt the one who asks, whatever else is named, and the words of that caution.
OF_THE_PERSON = (
    (EYES, "infrared light looking into the kiln"),
    (Said(r"\b(pregnan\w*|breast ?feed\w*|expecting|unborn)\b"), "pregnant"),
)
#: Asks whether one thing spoils another, not a person.
SPARES = Said(
    r"\b(safe|unsafe|harm(s|ful)?|hurts?|damages?|dangerous) ?(for|on|with|to|over|under|in)? (my |the |a )?$"
)
#: Asks whether something spoils glass, metal or a finished piece.
SPOILS = Said(
    r"\b(harm|hurt|damage|ruin|spoil|attack|dull|stain|scratch|affect|bad for|safe (?:for|on|with))s? "
    r"(?:my |the |an? |fired |finished |fine )*"
    r"(enamel(led|ling)?|glass|glaze|piece|jewell?ery|pendant|ring|brooch|silver|copper|gold|metal|foil|leaf|colou?r)s?\b"
)
#: Sets one thing in relation to another.
RELATES = Said(r"\w (on|for|with|under|after|in|over|of|to|from) \w")
LONG = Said(r"\b(how long|schedule|programme|program|ramp|hold time|minutes|hours)\b")
#: What lies on the metal.
GLASS_LIES = Said(r"\b(enamels?|glass|coats?|layers?)\b")
THICK = Said(r"\b(how (thick|thin)|thickness|gau?ge)\b")
FITS = Said(
    r"\b(suits?|fits?|work(s|ing)?|go(es)?|use[ds]?|stick|sticks|hold|holds|adheres?|bonds?|compatible|put|fire[ds]?|match|"
    r"ok|okay|good|enamel(led|ing|ling)?|on|over|apply|take[ns]?|possible)\b"
)
#: Asks for a verdict, whatever else is in it.
SUITS = Said(r"\bsuits?\b")
WHICH = Said(r"\b(which|what|whats|best|any|recommend\w*|choose|list)\b")
GLASS = Said(
    r"\b(glass(es)?|enamels?|clears?|flux(es)?|colours?|opaques?|transparents?|frit|powder|enamelling|enamelled)\b"
)
CLEAR = Said(r"\b(clear|flux|fondant|transparent|glass|enamel|cover|coat|go)\b")
BENEATH = Said(r"\b(under|underneath|beneath|below)\b")
HOT = Said(r"\b(how hot|how high|temperature|temp|degree|celsius|fahrenheit|kiln setting|heat|set the kiln|setting)\b")
MELTS = Said(r"\b(melt(s|ing|ed)?|solidus|liquidus)\b")
HOW = Said(
    r"^(how (do|to|should|can|would|long|much|many|often|thick|thin)|when|should|do i|must|what is the best way)\b"
)
TOUCH = Said(r"\b(on|melt\w*|touch\w*|meet\w*|contact|eutectic|bare|directly|with|and|to)\b")
WHAT_IS = Said(r"^(what|whats|tell me about|explain)( is| are)?( a| an| the)?\b")
FLAME = Said(r"\b(torch\w*|blow ?torch\w*|flames?|headpins?)\b")
LOAD = Said(r"\bhow many\b.*\b(kiln|load|batch|at once|one firing)\b")
POWDER = Said(r"\bhow (much|many grams( of)?) (enamel|powder|glass|frit)\b(?!.*\b(shrink|hold|holding|weigh)\b)")
#: What is done with a flame and is not enamelling.
OTHER_FLAME = Said(r"\b(solder\w*|braz\w*|anneal\w*|clay|melt\w*|sinter\w*)\b")
#: Asks for a size, a number or a way, of a thing that food or a child might meet.
OF_MAKING = Said(r"\b(how (much|many|big|large|thick|thin|hot|long|do|to)|thickness|gau?ge|which|support|trivet)\b")
CHILD = Said(r"\b(child|children|kid|kids|baby|toddler|years? olds?|teens?|teenagers?)\b")
USES = (
    ("food", Said(r"\b(food|eat|drink\w*|cup|bowl|tableware|dinner\w*|dishwasher|plate for|spoon)\b")),
    ("child", CHILD),
)
EATEN = Said(r"\b(food|eat|drink\w*)\b")


#: Words that any question may hold and that tell nothing of what it is about.
_FILLERS = """actually add adding adds advice affect affected affects allowed alone amount another anyway apart avoid
bad badly begin beginner beginners big bigger bit bought brand buy case cases cause causes client correctly cost
customer customers day decide decided difference different difficult disc disk during easily easy effect effects else
enough everything exactly explain far few find finish finished first five fix fixed found four full fully guess hand
hands happen happens help idea ideas important instead jar jewellery jewelry job large last later learn leave leaves
little lot lots matter matters maybe month morning necessary new next nice nicely night nothing off part parts people
perhaps person piece pot pretty prevent project projects properly purpose question quickly ready reason reckon
recommend recommended remove removed removes removing replace rid rule rules same save say says sell show shows side
sides since six soon start step steps stop stops student students stuff sure surface three till tip tips today trick
tricks trouble true two type types wait week whole without work worth year years yesterday"""
FILLERS = frozenset(_FILLERS.split())
#: Things that are worn: what is asked of them is told by the other words.
_WORN = """badge badges bangle bangles bracelet bracelets brooch brooches charm charms cufflink cufflinks earring
earrings jewellery jewelry locket lockets necklace necklaces pendant pendants ring rings"""
WORN = frozenset(_WORN.split())
#: What is said aside, in words that mean something else alone.
ASIDE = Said(
    r"\b(watch(ing)?|look(ing)?) out( for)?\b|\bat the moment\b|\b(nip|pop)(ping)? (to|out|into)\b( the shops?)?"
)


def is_said(word: str) -> bool:
    """Whether a word is one of those by which a sentence tells what it asks."""
    return any(said.search(word) for said in globals().values() if isinstance(said, Said))
