#!/usr/bin/python3
"""No include but those that layers.toml allows. First it proves on planted faults that it would find them."""
import pathlib
import tempfile

from house import ROOT, finish
from layers import Layers

GOOD = """
[ground]
order = ["base", "math"]
[may_include]
io = []
rig = []
app = ["io", "rig"]
[numbers]
folders = ["math", "rig"]
[debts]
"""
# What is planted -> a piece of the sentence that must come back; None: all is well.
PLANTED = [
    ("rig/a.cpp", '#include "io/b.h"\n', "rig may not include io"),
    ("math/a.cpp", '  # include "rig/c.h"\n', "math may not include rig"),
    ("base/a.h", '#include "math/d.h"\n', "base may not include math"),
    ("base/a.h", "#include <fmt/format.h>\n", "standard library alone"),
    ("base/a.h", "#include <vector>\n", None),
    ("rig/a.cpp", "#include <fstream>\n", "opens no file"),
    ("rig/a_test.cpp", "#include <fstream>\n", None),
    ("app/a.cpp", '#include "rig/c.h"\n#include <fstream>\n', None),
    ("rig/a.cpp", '#include "rig/none.h"\n', "is no file of ours"),
    ("attic/a.cpp", "int x;\n", "no line in layers.toml"),
    ("rig/CMakeLists.txt", "ng_library(rig DEPENDS io LIBRARIES fmt::fmt)\n", "depends on io"),
    ("app/CMakeLists.txt", "ng_library(app DEPENDS io rig LIBRARIES fmt::fmt)\n", None),
]


def plant(place, text):
    with tempfile.TemporaryDirectory() as folder:
        src = pathlib.Path(folder)
        for name in ("base/e.h", "math/d.h", "io/b.h", "rig/c.h", "app/f.h", place):
            (src / name).parent.mkdir(exist_ok=True)
            (src / name).write_text(text if name == place else "\n")
        return Layers(GOOD).judge(src)


def prove():
    findings = []
    for place, text, expected in PLANTED:
        found = plant(place, text)
        ok = not found if expected is None else len(found) == 1 and expected in found[0]
        if not ok:
            findings.append(f"planted {text.strip()!r} in {place}: expected {expected!r}, found {found}")
    circle = Layers(GOOD.replace("io = []", 'io = ["rig"]').replace("rig = []", 'rig = ["io"]')).cycles()
    if sorted(circle) != ["io", "rig"]:
        findings.append(f"planted circle: found {circle}")
    owed = Layers(GOOD.replace("[debts]", '[debts]\n"rig -> io" = "until the reader moves"'))
    if ("rig", "io") not in owed.debts:
        findings.append("a debt is not read")
    return findings


proof = prove()
layers = Layers((ROOT / "layers.toml").read_text(encoding="utf-8"))
for owing, owed in sorted(layers.debts):
    print(f"debt: {owing} -> {owed}")
finish(f"layers: {len(PLANTED) + 2} planted faults, {len(layers.folders())} folders", proof + layers.judge(ROOT / "src"))
