#!/usr/bin/python3
"""The judge of the cases finds what it should: each planted fault must give a finding, and what is right none."""
import pathlib
import subprocess
import sys
import tempfile

from house import ROOT, finish

sys.path.insert(0, str(ROOT / "tests/cases"))
import expect  # noqa: E402

REPLY = '{"masters": [{"frames_used": 4, "noise": 2.5, "path": "out/m.fits"}], "frames": [' \
        '{"kind": "light", "path": "a_1", "accepted": true, "reason": ""}, ' \
        '{"kind": "light", "path": "cloud", "accepted": false, "reason": "no stars"}, {"kind": "dark", "accepted": true}]}'
ERROR = "note: a note\nnightglass: in: the folder holds no frames; put some there\n"

# name, step, exit code, standard output, standard error, files before -> after, how many findings
PLANTED = [
    ("all is right", {"exit_code": 0}, 0, "", "", {}, {"out/m": "1"}, 0),
    ("another exit code", {"exit_code": 0}, 1, "", ERROR, {}, {}, 1),
    ("one clear sentence", {"exit_code": 1, "stderr": "no frames"}, 1, "", ERROR, {}, {}, 0),
    ("other words", {"exit_code": 1, "stderr": "no such file"}, 1, "", ERROR, {}, {}, 1),
    ("no sentence", {"exit_code": 1}, 1, "", "it failed\n", {}, {}, 1),
    ("two sentences", {"exit_code": 1}, 1, "", ERROR + ERROR, {}, {}, 1),
    ("the sentence is not the last", {"exit_code": 1}, 1, "", ERROR + "more\n", {}, {}, 1),
    ("a sentence without end", {"exit_code": 1}, 1, "", "nightglass: " + "x" * 500 + "\n", {}, {}, 1),
    ("a crash shows", {"exit_code": 0}, 0, "", "terminate called after throwing\n", {}, {}, 1),
    ("a file of the user is gone", {"exit_code": 0}, 0, "", "", {"in/a": "1"}, {}, 1),
    ("a file of the user has changed", {"exit_code": 0}, 0, "", "", {"in/a": "1"}, {"in/a": "2"}, 1),
    ("a half file is left", {"exit_code": 1}, 1, "", ERROR, {}, {"out/m.part": "1"}, 1),
    ("a number is right", {"exit_code": 0, "json": {"masters.0.noise": {"near": 2.4, "within": 0.2}}}, 0, REPLY, "", {}, {}, 0),
    ("a number is wrong", {"exit_code": 0, "json": {"masters.0.noise": {"near": 2.4, "within": 0.05}}}, 0, REPLY, "", {}, {}, 1),
    ("below the least", {"exit_code": 0, "json": {"masters.0.noise": {"min": 3}}}, 0, REPLY, "", {}, {}, 1),
    ("above the most", {"exit_code": 0, "json": {"masters.0.noise": {"max": 2}}}, 0, REPLY, "", {}, {}, 1),
    ("how many", {"exit_code": 0, "json": {"frames.#": 3, "frames[kind=light]": {"count": 2}}}, 0, REPLY, "", {}, {}, 0),
    ("chosen by path", {"exit_code": 0, "json": {"frames[path~cl].reason": {"matches": "stars"}}}, 0, REPLY, "", {}, {}, 0),
    ("one of several is wrong", {"exit_code": 0, "json": {"frames[kind=light].accepted": True}}, 0, REPLY, "", {}, {}, 1),
    ("not in the reply", {"exit_code": 0, "json": {"masters.1.noise": 1}}, 0, REPLY, "", {}, {}, 1),
    ("no document", {"exit_code": 0, "json": {"masters.#": 1}}, 0, REPLY + "done", "", {}, {}, 1),
]


def judge(step, code, stdout, stderr, before, after):
    with tempfile.TemporaryDirectory() as work:
        done = subprocess.CompletedProcess([], code, stdout, stderr)
        return expect.judge(step, done, before, after, pathlib.Path(work))


findings = []
for name, step, code, stdout, stderr, before, after, wanted in PLANTED:
    found = judge(step, code, stdout, stderr, before, after)
    if len(found) != wanted:
        findings.append(f"{name}: {wanted} findings expected, {found}")
for case in ({"step": [{"command": [], "exit_code": 0}]}, {"about": "x", "step": [{"command": ["x"], "exit_code": 0, "jsn": {}}]},
             {"about": "x", "step": [{"command": ["x"]}]}):
    if not expect.judge_keys(case):
        findings.append(f"a wrong case.toml passes: {case}")
finish(f"judge of the cases: {len(PLANTED) + 3} planted", findings)
