#!/usr/bin/python3
"""A whole night from frames to master: this program beside a pipeline of general libraries, in turn on the same files.

  whole_night.py PROGRAM [--night FOLDER] [--work FOLDER] [--rounds 2] [--size WxH] [--doubled] [--no-quality]

Rehearses the night when FOLDER has none: mono, L, 16 lights of 4240 x 2832, 12 each of dark, flat and bias. Then runs
`reduce`, cfitsio's mere reading of the frames (target read_frames) and tests/reference/pipeline.py in turn and prints wall time, processor time and the most memory held at once,
the ratio, and the quality of both masters against the truth of the night. Memory: the anonymous memory of all processes added up,
sampled ten times a second; pages of mapped files do not count, the system can drop them. --doubled runs `reduce` once
more with every light there twice, for the growth of memory.
"""
import argparse
import json
import mmap
import os
import resource
import subprocess
import sys
import threading
import time
from pathlib import Path

from astropy.io import fits

HERE = Path(__file__).resolve().parent
REFERENCE = HERE.parent / "tests" / "reference"
PYTHON = "/usr/bin/python3"
sys.path.insert(0, str(REFERENCE))
from rehearsed import rehearse  # noqa: E402


def tree_of(pid):
    pids, todo = [], [pid]
    while todo:
        p = todo.pop()
        pids.append(p)
        try:
            for task in os.listdir(f"/proc/{p}/task"):
                todo += map(int, Path(f"/proc/{p}/task/{task}/children").read_text().split())
        except (OSError, ValueError):
            pass
    return pids


def held_bytes(pid):
    """Private memory of a process and its children; pages of files mapped in do not count, they can be dropped."""
    total = 0
    for p in tree_of(pid):
        try:
            for line in Path(f"/proc/{p}/status").read_text().splitlines():
                if line.startswith("RssAnon:"):
                    total += int(line.split()[1]) * 1024
        except OSError:
            pass
    return total


def touch_memory():
    """Takes 2 GiB and gives them back, twice. Some virtual machines return free memory to their host within seconds, and
    the first touch of what they are given anew costs 40 times what it does on a machine of one's own: nobody is to pay for
    that. The second time it is quick: no longer than such a machine leaves free memory alone."""
    for _ in range(2):
        memory = mmap.mmap(-1, 2 << 30, flags=mmap.MAP_PRIVATE | mmap.MAP_ANONYMOUS)
        memory.madvise(mmap.MADV_HUGEPAGE)
        for place in range(0, len(memory), 1 << 20):
            memory[place] = 1
        memory.close()


def measured(command):
    """Runs a command; its output and what it cost."""
    touch_memory()
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    started = time.monotonic()
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    peak, done = [0], threading.Event()

    def watch():
        while not done.wait(0.1):
            peak[0] = max(peak[0], held_bytes(process.pid))

    watcher = threading.Thread(target=watch)
    watcher.start()
    output, errors = process.communicate()
    wall = time.monotonic() - started
    done.set()
    watcher.join()
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    if process.returncode != 0:
        raise SystemExit(f"{' '.join(map(str, command))}\nended with {process.returncode}: {errors[-2000:]}")
    cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return output, {"wall_s": wall, "cpu_s": cpu, "peak_gib": peak[0] / 2**30}


def doubled(night, work):
    """The night again with every light twice; the second has one more line in its header, or it would be left out as a copy."""
    twice = work / "doubled"
    for path in sorted(night.glob("*/*.fits")):
        link = twice / path.parent.name / path.name
        link.parent.mkdir(parents=True, exist_ok=True)
        if not link.is_symlink():
            link.symlink_to(path.resolve())
        again = link.with_name("again_" + path.name)
        if path.parent.name == "light" and not again.exists():
            with fits.open(path) as file:
                file[0].header["COMMENT"] = "the same light once more"
                file.writeto(again)
    return twice


def quality(night, master, reply=None):
    command = [PYTHON, "-B", str(REFERENCE / "check_night.py"), str(night), str(master), "--json"]
    if reply:
        command += ["--reply", str(reply)]
    done = subprocess.run(command, capture_output=True, text=True)
    return json.loads(done.stdout) if done.returncode == 0 else {"failed": done.stderr.strip()[-400:]}


def show_cost(name, runs):
    print(f"\n{name:12} {'wall s':>9} {'CPU s':>9} {'peak GiB':>9}")
    for i, r in enumerate(runs, 1):
        print(f"  round {i:<4} {r['wall_s']:9.1f} {r['cpu_s']:9.1f} {r['peak_gib']:9.2f}")


def show_stages(replies):
    """Where the time went, the quickest round of each stage, on the wall and of all threads."""
    print(f"\n{'stage':22} {'wall s':>9} {'CPU s':>9}")
    for stages in zip(*(r["stages"] for r in replies)):
        print(f"  {stages[0]['name']:20} {min(s['seconds'] for s in stages):9.2f} "
              f"{min(s['processor_seconds'] for s in stages):9.2f}")


def read_alone(program, night, rounds):
    """What cfitsio takes to read the frames to float on two threads; None where its program was not built."""
    reader = Path(program).with_name("read_frames")
    if not reader.exists():
        return None
    command = [str(reader), "2", *(str(p) for p in sorted(night.glob("*/*.fits")))]
    return [json.loads(measured(command)[0]) for _ in range(rounds)]


def show_quality(ours, theirs):
    print(f"\n{'quality against truth':32} {'nightglass':>12} {'libraries':>12}")
    for key in ("lights", "stars", "rms_x_px", "rms_y_px", "rms_x_affine_px", "rms_y_affine_px", "noise_ratio_pixel",
                "noise_ratio_4x4", "noise_over_stated", "outliers_per_mpix", "nebula_ratio", "nebula_ratio_error"):
        values = [f"{q[key]:12.4g}" if key in q else f"{'-':>12}" for q in (ours, theirs)]
        print(f"  {key:30} {values[0]} {values[1]}")
    for q in (ours, theirs):
        if "failed" in q:
            print("  not measured: " + q["failed"])


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("program")
    parser.add_argument("--night", type=Path)
    parser.add_argument("--work", type=Path, default=Path("/tmp/nightglass-bench"))
    parser.add_argument("--rounds", type=int, default=2)
    parser.add_argument("--size", help="smaller frames, such as 1200x800")
    parser.add_argument("--doubled", action="store_true")
    parser.add_argument("--no-quality", action="store_true")
    o = parser.parse_args()
    o.work.mkdir(parents=True, exist_ok=True)
    night = o.night or o.work / "night"
    rehearse(o.program, night, o.size)

    print(f"processors {os.cpu_count()}, load before {os.getloadavg()[0]:.1f} (above 0.5: wall times are of a busy machine)")
    ours, theirs, reading, replies, reply = [], [], [], [], o.work / "reply.json"
    library_master = o.work / "libraries.fits"
    # Folders that a run writes to are named by the process, so that nothing of an earlier run is met or replaced.
    for i in range(o.rounds):
        out = o.work / f"masters-{os.getpid()}-{i}"
        text, cost = measured([o.program, "reduce", str(night), "--out", str(out), "--json", "--quiet"])
        reply.write_text(text)
        replies.append(json.loads(text))
        ours.append(cost)
        reading += read_alone(o.program, night, 1) or []
        theirs.append(measured([PYTHON, "-B", str(REFERENCE / "pipeline.py"), str(night), str(library_master)])[1])
    show_cost("nightglass", ours)
    show_cost("libraries", theirs)
    show_stages(replies)
    for key in ("wall_s", "cpu_s"):
        print(f"ratio of {key} (best of each): {min(r[key] for r in theirs) / min(r[key] for r in ours):.2f}")
    if reading:
        least, processor = min(r["seconds"] for r in reading), min(r["processor_seconds"] for r in reading)
        print(f"cfitsio reads the {reading[0]['frames']} frames to float in {least:.2f} s, {processor:.2f} s of processor; "
              f"the whole reduction takes {min(r['wall_s'] for r in ours) / least:.2f} and "
              f"{min(r['cpu_s'] for r in ours) / processor:.2f} times that (best of each)")
    else:
        print("cfitsio was not timed: build the target read_frames")
    if o.doubled:
        out = o.work / f"masters-{os.getpid()}-doubled"
        command = [o.program, "reduce", str(doubled(night, o.work)), "--out", str(out), "--json", "--quiet"]
        text, cost = measured(command)
        used = sum(f["accepted"] for f in json.loads(text)["frames"] if f["kind"] == "light")
        growth = cost["peak_gib"] / max(r["peak_gib"] for r in ours) - 1
        print(f"lights doubled ({used} used): {cost['wall_s']:.1f} s, {cost['peak_gib']:.2f} GiB, memory {growth:+.1%}")
    if not o.no_quality:
        master = json.loads(reply.read_text())["masters"][0]["path"]
        show_quality(quality(night, master, reply), quality(night, library_master))


if __name__ == "__main__":
    main()
