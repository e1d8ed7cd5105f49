"""Every sentence of a return visit has its code, and every code its sentence."""

import re
from pathlib import Path

import bolewalk.visits
from bolewalk.papers.language import load_catalogue

MADE = (
    {f"growth_{v}" for v in ("within", "below", "above", "shrunk")}
    | {f"{w}_{x}" for w in ("health", "structure") for x in ("worse", "better")}
    | {"owner_changed", "decision_changed", "verdict_same", "verdict_changed"}
    | {f"for_{c}" for c in ("near", "same_species", "same_genus", "same_tag", "same_stems",
                            "grown")}
    | {f"against_{c}" for c in ("far", "other_species", "other_tag", "other_stems", "shrunk")}
    | {f"{t}_{s}" for t in ("report", "price", "credential") for s in ("expired", "holds")}
    | {f"work_new_{p}" for p in ("existing", "proposed", "possible_later")}
    | {"none", "gone_unasked", "gone_recorded", "default_gone", "default_stays", "question_open",
       "question_closed", "work_there", "work_not_there", "work_in_doubt", "work_built",
       "work_phase"}
)  # fmt: skip


def test_codes_and_sentences_are_the_same():
    written = set()
    for path in Path(bolewalk.visits.__file__).parent.glob("*.py"):
        written |= set(re.findall(r'"visit\.([a-z_]+)"', path.read_text("utf-8")))
    sentences = load_catalogue().tables["visit"]
    assert set(sentences) == written | MADE
    for text in sentences.values():
        for one in text.values() if isinstance(text, dict) else (text,):
            assert one.endswith((".", "”", "{text}", "{ask}")), one
            assert not re.search(r"\b(safe|guarantee\w*|approved)\b", one, re.I)
