"""The demonstration survey with everything a report can be told: for the checklist of agencies."""

import csv
import io
from pathlib import Path

from PIL import Image

from bolewalk.demo import survey_folder

__all__ = ["complete_survey", "photograph"]

_TOLD = """
[firm]
name = "Hale Tree Consulting"
address = "3 Weir Street, Callowmere"
licence = "Contractor C61-0417"
licence_until = 2026-12-01
insurance = "Mutual of Callow, policy 88-214"
insurance_until = 2027-12-31
start = 2027-01-11
end = 2027-01-15
pay = "Within 14 days of the last day of work."

[protection]
site_arborist = "Ines Corrigan, who may stop any work at a tree"
agreement = "Signed by owner and contractor on 2026-11-20; copy in the office file 26-118"
inspector = "The town's inspector agreed to the fence line on 2026-11-18"
reports = "Log to the town each Friday"
damage = "Told to the town the same day; the contractor pays the repair"
penalties = "Stop-work and the fine of Town Code 12.90 (invented)"

[risk]
years = 2
level = "basic"

[insurer]
name = "Mutual of Callow"
reference = "HO-5512"
asked_on = 2026-10-30
asks = "Remove the cottonwood by the path."
trees = ["T14"]
answer = "The path can be closed until the stem has been tested."
"""

_SITE = """
lot = "1.1 acres"
structures = "Common house of 1974 on a slab, sound; six homes on strip footings"
sensitive = "Creek bank within 40 ft of the south line"
invasive = "Ivy on the north fence, about 600 sq ft"
soil = "Clay loam, firm, moist at 8 in"
drainage = "Falls to the creek; downpipes open onto the ground"
irrigation = "Drip along the homes, off since October"
wires = "House wire, electric, under 10 ft from the palm's crown; communication below it"
growing_space = "Street strip 6 ft wide, walk lifted 1 in at the plane"
history = "Sewer said to have been moved in 1998; no trench seen since"
unseen = "North side of T20, behind the neighbour's fence"
"""

DISCUSSION = """
[[tree]]
tree = "T15"
reason = "Dying from the top, bark beetle in the stem; not viable."
method = "From a lift, lowered in pieces"
if_left = "Limbs come down over the path, the whole tree within a few years."
treatment = "Pruning was weighed; too little of the crown is alive."
support = "A cable would hold nothing sound."
site_work = "No change of soil or water would bring it back."
pests = "Treating the beetle comes too late."
target_moved = "The path could be closed; the shed could not be moved."
alternatives = "The works do not reach it; no change of the plan would help."
nearby = "More light for the redwoods; none is thrown."
soil = "Flat ground; the stump may stay ground out, roots left."
value = "None by the trunk formula: condition 0 %."
replacement = "Two coast live oaks of 15 gallon on the north line"
exemption = "Dying tree, Town Code 12.60 (invented)"
agreed_by = "Town arborist, 2026-11-19"
age = "about 60 years"
survival = "dead within 3 years"
looks = "poor"
part = "upper stem"
target = "path"
use = "frequent"
after = "removed"

[[tree]]
tree = "T5"
reason = "Low limbs over the path."
if_left = "Heads are hit."
effect = "No harm in the long run; the crown stays balanced."
nearby = "None."
frequency = "Every five years"
later_cost = "About $300 each time"
age = "about 80 years"
survival = "long"
looks = "good"

[[tree]]
tree = "T14"
part = "stem at the cavity"
target = "path"
use = "occasional"
after = "path closed"
after_impact = "very low"
"""

_RISK = {
    "T15": ("probable", "medium", "significant"),
    "T14": ("possible", "high", "severe"),
    "T9": ("some day", "low", "minor"),
}


def photograph(path: Path, *, taken: str = "", size: tuple[int, int] = (1600, 1200)) -> None:
    """Make a picture with a place and a time written into it by the camera."""
    image = Image.new("RGB", size, (120, 140, 90))
    image.paste((60, 90, 40), (0, size[1] // 2, size[0], size[1]))
    exif = Image.Exif()
    if taken:
        exif.get_ifd(0x8769)[0x9003] = taken
    exif[0x013B] = "SECRET-CAMERA-OWNER"
    image.save(path, "JPEG", exif=exif)


def complete_survey(root: Path) -> Path:
    """Write the survey to a folder that is not there yet."""
    root.mkdir()
    for source in survey_folder().iterdir():
        (root / source.name).write_bytes(source.read_bytes())
    head = (root / "survey.toml").read_text("utf-8")
    head = head.replace("[files]", '[files]\nphotos = "photos"\ndiscussion = "discussion.toml"')
    head = head.replace("gate = 8\n", "gate = 8\n" + _SITE)
    (root / "survey.toml").write_text(head + _TOLD, "utf-8")
    (root / "discussion.toml").write_text(DISCUSSION, "utf-8")
    (root / "photos").mkdir()
    photograph(root / "photos" / "T15.jpg", taken="2026:11:11 09:41:07")
    photograph(root / "photos" / "T15_top.jpg")
    photograph(root / "photos" / "gate.jpg", size=(300, 200))
    (root / "photos" / "T14.jpg").write_bytes(b"no picture at all")
    rows = list(csv.DictReader(io.StringIO((root / "trees.csv").read_text("utf-8"))))
    names = [*rows[0], "failure", "impact", "consequence", "measured_at", "tag"]
    out = io.StringIO()
    writer = csv.DictWriter(out, list(dict.fromkeys(names)), lineterminator="\n")
    writer.writeheader()
    for n, row in enumerate(rows, start=101):
        words = dict(zip(("failure", "impact", "consequence"), _RISK.get(row["tree"], ("",) * 3),
                         strict=True))  # fmt: skip
        # A protected tree that is to go: what the rules then ask for has to be printed.
        gone = {"decision": "remove"} if row["tree"] == "T9" else {}
        writer.writerow({**row, **words, **gone, "measured_at": "4.5", "tag": str(n)})
    (root / "trees.csv").write_text(out.getvalue(), "utf-8")
    return root
