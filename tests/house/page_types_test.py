#!/usr/bin/python3
"""What the page knows of the services is what the services are: web/src/api/services.ts as write_types prints it.

    tests/house/page_types_test.py WRITE_TYPES        to mend: WRITE_TYPES > web/src/api/services.ts
"""
import subprocess
import sys
from pathlib import Path

KEPT = Path(__file__).resolve().parents[2] / "web/src/api/services.ts"


def differing(kept, written):
    return [b.split("=")[0] for a, b in zip(kept, written) if a != b] + (["number of lines"] if len(kept) != len(written) else [])


def main():
    if not differing(["a = 1"], ["a = 2"]) or not differing(["a"], ["a", "b"]):
        sys.exit("this test does not find a planted difference")
    written = subprocess.run(sys.argv[1], capture_output=True, text=True, check=True).stdout
    found = differing(KEPT.read_text(encoding="utf-8").splitlines(), written.splitlines())
    for name in found:
        print(f"{KEPT.name}: {name.strip()} is not what the program declares; write it anew with write_types")
    sys.exit(1 if found else 0)


if __name__ == "__main__":
    main()
