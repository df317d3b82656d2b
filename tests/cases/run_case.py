#!/usr/bin/python3
"""Runs one case: makes its input files, gives the program its commands, compares what comes.

Usage: run_case.py NIGHTGLASS CASE_FOLDER [--keep]      (README.md beside this file says what a case may hold)
Exit 0 as expected, 1 not, 77 it cannot run here.
"""
import os
import pathlib
import shutil
import signal
import subprocess
import sys
import tempfile
import tomllib

import expect
import prepare

SKIP_CODE = 77
IN_OWN_MOUNTS = "NG_CASE_IN_OWN_MOUNTS"


def skip(why):
    print(f"SKIP: {why}")
    sys.exit(SKIP_CODE)


def enter_own_mounts():
    """Starts this script again where it may mount small file systems that vanish with it; skips where that is forbidden."""
    if os.environ.get(IN_OWN_MOUNTS):
        return
    unshare = ["unshare", "--mount"] if os.geteuid() == 0 else ["unshare", "--user", "--map-root-user", "--mount"]
    probe = [*unshare, "sh", "-c", 'd=$(mktemp -d) && mount -t tmpfs none "$d" && umount "$d"; e=$?; rmdir "$d"; exit $e']
    if shutil.which("unshare") is None or subprocess.run(probe, capture_output=True).returncode != 0:
        skip("file systems cannot be mounted here")
    os.environ[IN_OWN_MOUNTS] = "yes"
    os.execvp("unshare", [*unshare, sys.executable, "-B", *sys.argv])


def run_step(program, step, places, work):
    command = [str(program), *(word.format(**places) for word in step["command"])]
    print("$ nightglass", *command[1:])
    process = subprocess.Popen(command, cwd=work, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    try:
        stdout, stderr = process.communicate(timeout=step.get("interrupt_after_s", step.get("timeout_s", 300)))
    except subprocess.TimeoutExpired:
        process.send_signal(signal.SIGINT if "interrupt_after_s" in step else signal.SIGKILL)
        stdout, stderr = process.communicate()
    done = subprocess.CompletedProcess(command, process.returncode, stdout, stderr)
    for stream in (done.stdout[:1500], done.stderr[:3000]):
        if stream.strip():
            print(stream.rstrip())
    print(f"-> {done.returncode}")
    return done


def run_case(case, program, case_folder, work):
    findings = []
    print(case["about"])
    places = {"work": str(work), "in": str(work / "in"), "out": str(work / "out")}
    prepare.make_input(case, case_folder, work, program)
    for number, step in enumerate(case["step"], 1):
        before = expect.snapshot(work)
        done = run_step(program, step, places, work)
        after = expect.snapshot(work)
        findings += [f"step {number}: {what}" for what in expect.judge(step, done, before, after, work)]
    return findings


def main():
    if len(sys.argv) < 3:
        print(__doc__)
        sys.exit(2)
    program, case_folder = pathlib.Path(sys.argv[1]).resolve(), pathlib.Path(sys.argv[2]).resolve()
    missing = prepare.missing_library()
    if missing:
        skip(f"{missing} is not installed")
    case = tomllib.loads((case_folder / "case.toml").read_text(encoding="utf-8"))
    wrong = expect.judge_keys(case)
    if wrong:
        print("\n".join(wrong))
        sys.exit(1)
    if case.get("mount"):
        enter_own_mounts()
    work = pathlib.Path(tempfile.mkdtemp(prefix="case-"))
    try:
        findings = run_case(case, program, case_folder, work)
    finally:
        prepare.unmount(work)
        if "--keep" in sys.argv:
            print(f"kept: {work}")
        else:
            shutil.rmtree(work, ignore_errors=True)
    for line in findings:
        print("NOT AS EXPECTED:", line)
    sys.exit(1 if findings else 0)


if __name__ == "__main__":
    main()
