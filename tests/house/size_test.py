#!/usr/bin/python3
"""No source of ours is longer than 500 lines: a longer one holds more than one thing. Over 300 it is named, no more."""
from house import ROOT, files, finish

TOO_LONG = 500
LONG = 300


def judge(lengths):
    return [f"{name}: {lines} lines, more than {TOO_LONG}" for name, lines in lengths if lines > TOO_LONG]


findings = [] if len(judge([("a.cpp", 501), ("b.cpp", 500)])) == 1 else ["planted: the limit does not hold"]
lengths = []
for path in files({".h", ".cpp", ".py", ".sh", ".cmake", ".ts", ".svelte"}):
    with open(path, encoding="utf-8") as text:
        lengths.append((path.relative_to(ROOT), sum(1 for _ in text)))
for name, lines in lengths:
    if LONG < lines <= TOO_LONG:
        print(f"long: {name}, {lines} lines")
finish(f"size: {len(lengths)} files", findings + judge(lengths))
