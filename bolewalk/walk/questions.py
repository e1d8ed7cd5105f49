"""Facts the speaker says are missing: what the drawing does not show, what somebody must find out."""

import re
from dataclasses import dataclass

from bolewalk.walk.sentences import Moment, Sentence

__all__ = ["Question", "find_questions"]

_JOIN_S = 14.0


@dataclass(frozen=True, slots=True)
class Question:
    """One missing fact: `about` in the trade's words, and where the speaker said so."""

    about: str
    moments: tuple[Moment, ...]


# Two kinds of turn: a fact is said to be missing, or somebody is told to find it.
_MISSING = re.compile(
    r"\b(?:(?:doesnt|dont|does not|do not|didnt|isnt|aint|not|never|without|no) (?:\w+ ){0,2}?(?:say|says|show|shows|showing|shown|give|gives|tell|tells|mark|marked|drawn|mention|have any|on here|on it|on the (?:plan|drawing|sheet))"
    r"|(?:i )?(?:honestly |really )?(?:cant|couldnt|can not) (?:honestly )?(?:tell|see|work out|find|say|make out)(?: from (?:the|this) \w+)?"
    r"|(?:i )?(?:dont|do not|still dont) (?:really |even )?know|dont see (?:the|a|any)|no idea|not sure|unclear|unknown|to be confirmed"
    r"|nobodys? (?:has |is |s |been able to |been |can )*(?:show|told|said|marked|saying|knows?|shown|given)|no one(?:s)? (?:has )?(?:told|said|marked)|havent been (?:told|given|shown)|hasnt been (?:told|said|shown|marked|decided)"
    r"|ive (?:got )?nothing on|nothing (?:on|about) (?:the )?(?:how|where|what)|i (?:need|have to|must|got to) (?:the|that|a|know|see|to (?:know|see)|both|it|those)|isnt in (?:the|this) (?:set|pack|drawings?|bundle)|nobodys (?:given|marked|told|shown|said)|need (?:to know|to see|to find out|to have|(?:the|that|a) (?:\w+ )?(?:survey|plan|section|depth|levels?|route|drawing|plan|details?))"
    r"|i want (?:the|that) (?:number|depth|level|levels|route|drawing|survey)|(?:id|i would) (?:like|want|need|love) to (?:know|see)|what isnt (?:shown|on)|no (?:\w+ )?(?:services|levels?|depth|route|dimensions?|details?|spot heights?|contours|invert|section) (?:shown|on|given|marked|no|and|or)?"
    r"|there(?:s| is) no (?:\w+ )?(?:levels?|depth|route|dimensions?|details?|section|scale|mention|sign)|could be (?:either|anywhere|anything)|just (?:says|a|shows)|all it says|it says by others|doesnt have any|does not have|question(?: for| mark)|that matters for)\b"
)
_ASKED = re.compile(
    r"\b(?:ask (?:the|him|her|them|estates|your|whoever|mr|mrs|somebody)|question for|somebody (?:should|needs? to|has to|have to|got to|going to have to|better) (?:\w+ )?(?:find|ring|call|phone|write|look|come|locate|tell|mark|stake|check|confirm|ask|get|peg)"
    r"|someone (?:should|needs? to|has to|have to|got to|better) (?:\w+ )?(?:find|give|tell|locate|mark|stake|check|confirm|peg|send)|somebody tell me|someone tell me|somebodys got to|get (?:somebody|someone|them|him|the \w+|a surveyor) to (?:find|peg|mark|stake|locate|confirm|draw|show|set out)"
    r"|find out|needs? (?:to be )?(?:locating|pegging|staking|marking|located|marked|staked|pegged|confirming|confirmed)|call (?:the )?(?:co op|utility|eight one one|811|dig|one call)|have (?:it|them|the line|the lines) (?:located|marked|staked)"
    r"|lets get some paint|let me know|tell me (?:where|how|what|which|whether|if)|check with|someone get|somebody get|get (?:a|the) (?:survey|locate|locator|surveyor|levels|section|detail)|dial before|has to confirm|can (?:somebody|someone|you) (?:send|tell|find|get|confirm)|want (?:that|it) (?:staked|pegged|marked|located)|put a stake)\b"
)
_SITE = re.compile(
    r"\b(?:decks?|footings?|foundations?|depth|deep|drawings?|drawn|plans?|property line|boundary|boundaries|pins?|routes?|cables?|services?|lorry|lorries|gates?|contractors?|materials|corners?"
    r"|cut or fill|section|hydraulic|stormwater|tiebacks?|sheet|wall|levels?|survey|driveway|sprinklers?|irrigation|sewers?|drains?|pipes?|lines?|backhoe|digger|excavator|voltage|poles?|electric|phone|power|pool|holes?|slab|piers?|piles?|trench(?:es)?|paths?|footpath|paving"
    r"|conduit|gas|water main|meter|engineer|architect|designer|builder|developer|fence|stakes?|setback|easement|utilit(?:y|ies)|telco|machine|truck|crane|access|storage|spoil|scaffold|wall|extension|building"
    r"|garage|shelter|house|addition|number|sheet|sketch|napkin|rectangle|squiggle|permit|protected|order|preservation|owner|owns|ownership|whose|council|dimensions?|sketch|extension|covenant|duct|manhole|soakaway|septic|leach|crossover|finished|dig|digs|digging|dug|gravel|concrete|made of|width|wide|height of the|ridge|roof)\b"
)
_TREE = re.compile(
    r"\b(?:bark|fork|needles?|leaf|leaves|acorns?|drought|species|fruit|crack|seam|limbs?|decay|rot|base|hollow|guess|climb\w*|bleeding|borer|fungus|bracket|clay|moving|hunch|decayed|flare|canopy|crown"
    r"|good or bad|going to live|survive|last|how far in it goes|lifting|settling|heaving)\b"
)
_ABOUT: tuple[tuple[str, str], ...] = (
    ("whose the tree is", r"\b(?:whose|owner of|who owns|could be theirs|could be both|ownership)\b"),
    ("property line", r"\b(?:property line|boundary|boundaries|pins?|lot line|the survey|surveyor|the line s|fence jogs)\b"),
    ("footing depth", r"\b(?:footings?|foundations?|piers?|piles?|posts?)\b.*\b(?:deep|depth|down)\b|\b(?:deep|depth)\b.*\b(?:footings?|foundations?|posts?|slab)\b"),
    ("how it is founded", r"\b(?:pier blocks?|footings?|foundations?|slab|piers|founded|screw piles|continuous)\b"),
    ("gas line", r"\b(?:gas|propane)\b"),
    ("which wires", r"\b(?:voltage|pole|poles|electric|phone)\b"),
    ("sewer or drain line", r"\b(?:sewers?|drains?|drainage|septic|soakaway|leach)\b"),
    ("irrigation lines", r"\b(?:sprinklers?|irrigation)\b"),
    ("route of services", r"\b(?:cables?|conduit|services?|power|duct|utilit\w+|telco|water main|pipes?|lines?)\b"),
    ("levels", r"\b(?:levels?|cut(?:ting)? or fill(?:ing)?|grade|grading|contours?)\b"),
    ("position on the ground", r"\b(?:peg|pegged|stake|staked|paint on the ground|corners?|set out|how far)\b"),
    ("depth of dig", r"\b(?:deep|depth|dig|dug|digging|hole)\b"),
    ("access for machines", r"\b(?:lorry|lorries|backhoe|digger|excavator|truck|machine|gate|crane|access|deliver)\b"),
    ("storage of materials", r"\b(?:materials|storage|spoil|stack|store)\b"),
    ("what it is made of", r"\b(?:made of|gravel|concrete|surface|material)\b"),
    ("permit or protection", r"\b(?:permit|protected|order|preservation|covenant|easement)\b"),
)  # fmt: skip


def find_questions(
    sentences: tuple[Sentence, ...], *, speakers: set[str], skip: set[int], until: int | None
) -> tuple[Question, ...]:
    """Find the facts of the site and the works that the speaker says are missing.

    Parameters
    ----------
    sentences : tuple of Sentence
    speakers : set of str
        Who judges; questions of others are theirs.
    skip : set of int
        Sentences on planting and price.
    until : int or None
        First sentence of the recap, which repeats.

    Returns
    -------
    tuple of Question
        By time. Sentences on one fact within 14 s are one question. Doubts about the tree itself
        (bark, leaf, decay) are no missing facts of the site; they lead to an inspection.
    """
    found: list[Question] = []
    for k, s in enumerate(sentences):
        if s.speaker not in speakers or s.index in skip:
            continue
        text = " ".join(s.words)
        missing, asked = bool(_MISSING.search(text)), bool(_ASKED.search(text))
        if not (missing or asked):
            continue
        around = " ".join(" ".join(a.words) for a in sentences[max(0, k - 3) : k + 1])
        on_site = len(_SITE.findall(text))
        on_tree = len(_TREE.findall(text))
        if on_tree and on_tree >= on_site:
            continue
        if not on_site and (on_tree or not _SITE.search(around)):
            continue
        if (
            until is not None
            and s.index > until
            and found
            and _topic(text) in {q.about for q in found}
        ):
            continue
        topic = _topic(text)
        if found:
            last = found[-1]
            near = s.start_s - last.moments[-1].end <= _JOIN_S
            if near and (topic == last.about or topic == "missing fact" or not missing):
                if topic in (last.about, "missing fact"):
                    found[-1] = Question(last.about, (*last.moments, s.moment))
                    continue
        found.append(Question(topic, (s.moment,)))
    return tuple(found)


def _topic(text: str) -> str:
    for about, pattern in _ABOUT:
        if re.search(pattern, text):
            return about
    return "missing fact"
