#!/usr/bin/python3
"""Every C++ file has the form that clang-format 14 gives it."""
import re
import shutil
import subprocess

from house import ROOT, files, finish, skip

VERSION = 14  # another version breaks lines elsewhere

program = shutil.which(f"clang-format-{VERSION}") or shutil.which("clang-format")
if program is None:
    skip("clang-format is not installed")
version = re.search(r"version (\d+)", subprocess.run([program, "--version"], capture_output=True, text=True).stdout)
if version is None or int(version[1]) != VERSION:
    skip(f"clang-format {VERSION} is not installed, only {version[1] if version else 'an unknown one'}")


def judge(names):
    done = subprocess.run([program, "--dry-run", *names], cwd=ROOT, capture_output=True, text=True)
    return sorted({line.split(":")[0] for line in done.stderr.splitlines() if "warning:" in line})


planted = subprocess.run([program, "--dry-run"], cwd=ROOT, input="int  f( ){return 1 ;}\n", capture_output=True, text=True)
findings = [] if "warning:" in planted.stderr else ["planted: a badly formed line was not found"]
sources = [str(p.relative_to(ROOT)) for p in files({".h", ".cpp"})]
findings += [f"{name}: run clang-format -i on it" for name in judge(sources)]
finish(f"format: {len(sources)} files", findings)
