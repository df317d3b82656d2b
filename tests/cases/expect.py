"""Judges what a step of a case did: exit code, words, JSON reply, files. Every rule returns findings, none is loud."""
import hashlib
import json
import re

CASE_KEYS = {"about", "frames", "mount", "step"}
STEP_KEYS = {"command", "exit_code", "stderr", "stdout", "not_stderr", "json", "present", "absent", "changed", "leaves",
             "finite_inside", "same_bytes", "timeout_s", "interrupt_after_s"}
# What no person should ever read.
UGLY = re.compile(r"terminate called|Traceback|what\(\):|Segmentation|core dumped|Assertion|std::|nlohmann|errno|"
                  r"AddressSanitizer|runtime error|\bnan\b|\binf\b")


def judge_keys(case):
    findings = [f"case.toml: unknown key {key}" for key in case if key not in CASE_KEYS]
    findings += [f"case.toml: {key} is missing" for key in ("about", "step") if not case.get(key)]
    for step in case.get("step", []):
        findings += [f"case.toml: unknown key {key} in a step" for key in step if key not in STEP_KEYS]
        findings += [f"case.toml: a step has no {key}" for key in ("command", "exit_code") if key not in step]
    return findings


def snapshot(work):
    """Path -> hash of every file below."""
    return {str(p.relative_to(work)): hashlib.sha256(p.read_bytes()).hexdigest()
            for p in sorted(work.rglob("*")) if p.is_file() and not p.is_symlink()}


def find(document, path):
    """All values at a path like frames[kind=light].accepted, masters.0.fwhm_px, masters.# (how many)."""
    found = [document]
    for part in re.findall(r"\[[^\]]*\]|[^.\[\]]+", path):
        following = []
        for value in found:
            if part.startswith("["):
                key, sign, wanted = re.match(r"\[(\w+)(=|~)(.*)\]", part).groups()
                for item in value if isinstance(value, list) else []:
                    text = str(item.get(key))
                    if (text == wanted) if sign == "=" else re.search(wanted, text):
                        following.append(item)
            elif part == "#":
                following.append(len(value))
            elif part == "*":
                following += value
            elif isinstance(value, list) and part.isdigit() and int(part) < len(value):
                following.append(value[int(part)])
            elif isinstance(value, dict) and part in value:
                following.append(value[part])
        found = following
    return found


def fits_wish(value, wish):
    """wish: a plain value, or a table with min, max, matches (text), null (true), near and within."""
    if not isinstance(wish, dict):
        return value == wish
    if "null" in wish and (value is None) != wish["null"]:
        return False
    if "matches" in wish and (not isinstance(value, str) or not re.search(wish["matches"], value)):
        return False
    number = isinstance(value, (int, float)) and not isinstance(value, bool)
    if "min" in wish and not (number and value >= wish["min"]):
        return False
    if "max" in wish and not (number and value <= wish["max"]):
        return False
    if "near" in wish and not (number and abs(value - wish["near"]) <= wish["within"]):
        return False
    return True


def judge_json(wishes, text):
    try:
        document = json.loads(text)
    except ValueError as wrong:
        return [f"standard output is not one JSON document: {wrong}"]
    findings = []
    for path, wish in wishes.items():
        if isinstance(wish, dict) and "count" in wish:
            if len(find(document, path)) != wish["count"]:
                findings.append(f"{path}: {len(find(document, path))} of them, expected {wish['count']}")
            continue
        values = find(document, path)
        if not values:
            findings.append(f"{path}: is not in the reply")
        findings += [f"{path}: is {value!r}, expected {wish!r}" for value in values if not fits_wish(value, wish)]
    return findings


def judge_words(step, done):
    findings = []
    for name, text in (("stderr", done.stderr), ("stdout", done.stdout)):
        pattern = step.get(name)
        if pattern is not None and not re.search(pattern, text):
            findings.append(f"{name} does not hold /{pattern}/")
    if "not_stderr" in step and re.search(step["not_stderr"], done.stderr):
        findings.append(f"stderr holds /{step['not_stderr']}/")
    ugly = UGLY.search(done.stderr)
    if ugly:
        findings.append(f"stderr holds '{ugly[0]}'")
    if done.returncode == 1:
        errors = [line for line in done.stderr.splitlines() if line.startswith("nightglass: ")]
        if len(errors) != 1 or done.stderr.splitlines()[-1:] != errors:
            findings.append("an error must be one line, the last, that begins with 'nightglass: '")
        elif not 20 <= len(errors[0]) <= 400:
            findings.append(f"the error is {len(errors[0])} characters long")
    return findings


def judge_files(step, before, after, work):
    """Nothing that was there may change or vanish unless the step says so; a failure leaves nothing new."""
    findings = [f"there is no {pattern}" for pattern in step.get("present", []) if not any(work.glob(pattern))]
    findings += [f"there is {p.relative_to(work)}" for pattern in step.get("absent", []) for p in work.glob(pattern)]
    may_change = {str(p.relative_to(work)) for pattern in step.get("changed", []) for p in work.glob(pattern)}
    for name, content in before.items():
        if name not in after:
            findings.append(f"{name} is gone")
        elif after[name] != content and name not in may_change:
            findings.append(f"{name} has changed")
    findings += [f"{name} should have changed" for name in may_change if before.get(name) == after.get(name)]
    if step["exit_code"] != 0:
        left = {str(p.relative_to(work)) for pattern in step.get("leaves", []) for p in work.glob(pattern)}
        findings += [f"{name} is left behind" for name in after if name not in before and name not in left]
    return findings


def judge_same(wishes, work):
    """Each file that matches the one pattern has the bytes of the file that matches the other."""
    findings = []
    for pattern, other in wishes.items():
        a, b = sorted(work.glob(pattern)), sorted(work.glob(other))
        if not a or len(a) != len(b):
            findings.append(f"{len(a)} files {pattern}, {len(b)} files {other}")
        findings += [f"{p.name} differs from {q.relative_to(work)}" for p, q in zip(a, b) if p.read_bytes() != q.read_bytes()]
    return findings


def judge_finite(wishes, work):
    """Every image of the files that match holds no NaN farther than so many pixels from its border."""
    from astropy.io import fits
    import numpy as np
    findings = []
    for pattern, border in wishes.items():
        files = list(work.glob(pattern))
        findings += [] if files else [f"there is no {pattern}"]
        for path in files:
            with fits.open(path) as opened:
                for hdu in opened:
                    inside = hdu.data[..., border:-border, border:-border]
                    if not np.isfinite(inside).all():
                        findings.append(f"{path.name} {hdu.name}: {np.sum(~np.isfinite(inside))} pixels are not finite")
    return findings


def judge(step, done, before, after, work):
    findings = []
    if done.returncode != step["exit_code"]:
        findings.append(f"exit code {done.returncode}, expected {step['exit_code']}")
    findings += judge_words(step, done)
    if "json" in step:
        findings += judge_json(step["json"], done.stdout)
    findings += judge_finite(step.get("finite_inside", {}), work)
    findings += judge_same(step.get("same_bytes", {}), work)
    return findings + judge_files(step, before, after, work)
