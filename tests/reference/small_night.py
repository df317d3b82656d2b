#!/usr/bin/python3
"""The acceptance of a whole night, on small frames: rehearse, reduce, and the master against the truth (check_night.py).

  small_night.py PROGRAM [WIDTHxHEIGHT]

Exit 0 within all limits of check_night.py, 1 not, 77 libraries missing.
"""
import pathlib
import subprocess
import sys
import tempfile

try:
    from rehearsed import rehearse
except ImportError as missing:
    print(f"SKIP: {missing}")
    sys.exit(77)

HERE = pathlib.Path(__file__).resolve().parent


def run(*command):
    done = subprocess.run([str(word) for word in command], stdout=subprocess.PIPE, text=True)
    if done.returncode != 0:
        print(done.stdout)
        sys.exit(done.returncode)
    return done.stdout


def main():
    if len(sys.argv) < 2:
        raise SystemExit(__doc__)
    program, size = sys.argv[1], sys.argv[2] if len(sys.argv) > 2 else "1800x1200"
    with tempfile.TemporaryDirectory() as folder:
        work = pathlib.Path(folder)
        night, out, reply = work / "night", work / "masters", work / "reply.json"
        rehearse(program, night, size, catalogue="none")
        reply.write_text(run(program, "reduce", night, "--out", out, "--json", "--quiet"), encoding="utf-8")
        master = next(out.glob("*.fits"))
        print(run(sys.executable, "-B", HERE / "check_night.py", night, master, "--reply", reply, "--accept"))


if __name__ == "__main__":
    main()
