#!/usr/bin/python3
"""The invitation that `serve --lan` draws in the terminal, read by a general reader of bar codes (Debian's zbar-tools).

    invitation.py PROGRAM

It must hold the address and the code that stand above it as text. Exit 0; 1; 77 where the reader or a network is missing.
"""
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

SIDE = 8  # pixels of a module


def write_picture(lines, path):
    """Half blocks as a grey picture (PGM): ink is light, for it is printed on a dark screen."""
    light = {" ": (0, 0), "▀": (255, 0), "▄": (0, 255), "█": (255, 255)}
    rows = []
    for line in lines:
        for half in (0, 1):
            rows += [bytes(light[c][half] for c in line for _ in range(SIDE))] * SIDE
    path.write_bytes(b"P5 %d %d 255\n" % (len(rows[0]), len(rows)) + b"".join(rows))


def main():
    program = Path(sys.argv[1]).resolve()
    if not shutil.which("zbarimg"):
        print("SKIP: the package zbar-tools is not installed")
        return 77
    with tempfile.TemporaryDirectory() as folder:
        workspace = Path(folder) / "sky"
        subprocess.run([program, "init", workspace], check=True, stdout=subprocess.DEVNULL)
        server = subprocess.Popen([program, "serve", "--workspace", workspace, "--port", "0", "--lan"], stdout=subprocess.PIPE,
                                  stderr=subprocess.DEVNULL, text=True, encoding="utf-8")
        lines = []
        for line in server.stdout:
            lines.append(line.rstrip("\n"))
            drawn = [text for text in lines if text and set(text) <= set(" ▀▄█")]
            if "no network" in line or (len(drawn) > 10 and len(drawn) >= len(drawn[0]) // 2 + len(drawn[0]) % 2):
                break
        server.terminate()
        server.wait(timeout=10)
        if not drawn:
            print("SKIP: this machine is on no network that others could use")
            return 77
        picture = Path(folder) / "invitation.pgm"
        write_picture(drawn, picture)
        read = subprocess.run(["zbarimg", "--raw", "--quiet", picture], capture_output=True, text=True).stdout.strip()
    words = "\n".join(lines)
    code = re.search(r"Pairing code for another device: (\S+)", words)[1]
    address = re.findall(r"http://\S+", words)[1]
    expected = f"{address}/#pair={code}"
    print(f"read '{read}', expected '{expected}'")
    return 0 if read == expected else 1


if __name__ == "__main__":
    sys.exit(main())
