"""Walk and speech."""

import numpy as np

from bolewalk.trees.stems import diameter_from_girth_cm
from bolewalk.walk.cues import Cue
from bolewalk.walk.numbers import find_numbers
from bolewalk.walk.sentences import read_sentences
from bolewalk.walk.stills import sharpness

from . import Checks, Found


def said(*texts: str) -> Found:
    return [
        n.value
        for text in texts
        for s in read_sentences([Cue(0.0, 1.0, text)])
        for n in find_numbers(s.tokens)
    ]


def one_bright_point() -> Found:
    grey = np.zeros((3, 5))
    grey[1, 2] = 4.0
    return [sharpness(grey)]


CHECKS: Checks = {
    "walk": {
        '"eleven-twenty': lambda: said("eleven-twenty mil", "six-oh-five"),
        "girth of 3.9": lambda: [diameter_from_girth_cm(390)],
    },
    "speech": {"sharpness": one_bright_point},
}
