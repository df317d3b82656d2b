#!/usr/bin/python3
"""Every path of the repository that a *.md file names exists. A name with * must match something."""
import re

from house import ROOT, files, finish

TOP = {"src", "tests", "scripts", "bench", "data", "docs", "cmake", "tools", "web", ".ci"}
QUOTED = re.compile(r"`([^`\n]+)`")
LINK = re.compile(r"\]\(([^)#\s]+)[^)]*\)")
TREE = re.compile(r"(?<![\w./-])((?:" + "|".join(re.escape(t) for t in sorted(TOP)) + r")/[\w./*-]*\w[\w/*-]*)")
PLAIN_PATH = re.compile(r"^[\w.*/-]+$")


def named_paths(text):
    """Paths that a text names: in links, in `quotes`, and plainly where they begin with a folder of ours."""
    found = {target for target in LINK.findall(text) if "://" not in target and not target.startswith("mailto:")}
    for quoted in QUOTED.findall(text):
        for word in quoted.split():
            is_path = PLAIN_PATH.match(word) and (word.split("/")[0] in TOP and "/" in word)
            if is_path or re.match(r"^[A-Z]+\.md$|^layers\.toml$|^CMake\w+\.(txt|json)$", word):
                found.add(word)
    return found | set(TREE.findall(text))


def exists(path, beside):
    path = path.rstrip("/.")
    for base in (ROOT, beside):
        if "*" in path:
            if any(True for _ in base.glob(path)):
                return True
        elif (base / path).exists():
            return True
    return False


def judge(text, beside):
    return sorted(path for path in named_paths(text) if not exists(path, beside))


def prove():
    planted = "See `src/base/result.h`, [rules](CONTRIBUTING.md), src/gone/a.h, `scripts/none.sh --all` and tests/cases/*/."
    found = judge(planted, ROOT)
    return [] if found == ["scripts/none.sh", "src/gone/a.h"] else [f"planted paths: found {found}"]


findings = prove()
texts = files({".md"})
count = 0
for path in texts:
    text = path.read_text(encoding="utf-8")
    count += len(named_paths(text))
    findings += [f"{path.relative_to(ROOT)}: there is no {gone}" for gone in judge(text, path.parent)]
finish(f"paths in texts: {len(texts)} files, {count} paths", findings)
