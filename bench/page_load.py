#!/usr/bin/python3
"""The page under load: 50 streams of events and 200 requests a second for 30 s on this machine; memory stays, nothing is lost.

    bench/page_load.py PROGRAM [SECONDS]

A job runs meanwhile and is stopped at the end: every stream must tell its end. Prints one line; ends with 1 where a request
failed, a stream lost the end, or memory grew by more than 32 MiB after the first third.
"""
import http.client
import json
import sys
import threading
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests/page"))
from hostile import resident_kib  # noqa: E402
from served import Served  # noqa: E402

STREAMS, PER_SECOND, WORKERS = 50, 200, 10


def stream(port, job, ends):
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=90)
    connection.request("GET", f"/api/jobs/{job}/events")
    text = connection.getresponse().read().decode()
    events = [json.loads(line[6:]) for line in text.splitlines() if line.startswith("data: ")]
    ends.append(events[-1]["state"] if events else "nothing")


def worker(port, number, until, times, faults, master):
    asks = [("GET", "/", None), ("POST", "/api/power", b"{}"), ("GET", "/api/jobs", None), ("POST", "/api/settings", b'{"file":"site"}'),
            ("GET", f"/api/picture/tile?path={master}&level=0&column=1&row=1&plane=0", None), ("GET", f"/api/picture/probe?path={master}&x=200&y=200", None)]
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
    due = time.monotonic() + number / PER_SECOND
    turn = number
    while time.monotonic() < until:
        time.sleep(max(0, due - time.monotonic()))
        due += WORKERS / PER_SECOND
        method, path, body = asks[turn % len(asks)]
        turn += 1
        begun = time.monotonic()
        try:
            connection.request(method, path, body, {"Content-Type": "application/json"} if body else {})
            response = connection.getresponse()
            response.read()
            if response.status != 200:
                faults.append(f"{path}: {response.status}")
        except OSError as error:
            faults.append(f"{path}: {error}")
            connection.close()
        times.append((time.monotonic() - begun, path.split("?")[0]))


def main():
    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else 30
    with Served(sys.argv[1], "--threads", "1") as s:
        done = s.job("reduce", {"folder": "frames/night", "out": "masters/night"})
        master = "masters/night/" + next((s.folder / "masters/night").glob("*.fits")).name
        assert done["state"] == "done", done["error"]
        job = s.ask("/api/jobs/rehearse", {"out": "frames/long", "night": "large"})[1]["id"]
        ends, times, faults, memory = [], [], [], []
        streams = [threading.Thread(target=stream, args=(s.port, job, ends)) for _ in range(STREAMS)]
        until = time.monotonic() + seconds
        workers = [threading.Thread(target=worker, args=(s.port, k, until, times, faults, master)) for k in range(WORKERS)]
        for t in streams + workers:
            t.start()
        while time.monotonic() < until:
            time.sleep(0.5)
            memory.append(resident_kib(s.server.pid))
        for t in workers:
            t.join()
        s.ask(f"/api/jobs/{job}/cancel", {})
        for t in streams:
            t.join()
    spent = sorted(t for t, _ in times)
    tiles = sorted(t for t, path in times if path.endswith("tile"))
    ms = lambda list_, share: 1000 * list_[int(share * (len(list_) - 1))]  # noqa: E731
    told = sum(e in ("done", "cancelled") for e in ends)
    growth = max(memory[len(memory) // 3:]) - memory[len(memory) // 3]
    print(f"{len(times)} requests in {seconds:.0f} s ({len(times) / seconds:.0f} a second), {len(faults)} failed; half within {ms(spent, 0.5):.1f} ms, "
          f"99 % within {ms(spent, 0.99):.1f} ms; tiles half within {ms(tiles, 0.5):.1f} ms, 99 % within {ms(tiles, 0.99):.1f} ms; "
          f"{told} of {STREAMS} streams told the end; memory {memory[len(memory) // 3] // 1024} MiB, grew by {growth // 1024} MiB")
    for fault in faults[:5]:
        print(fault)
    sys.exit(0 if not faults and told == STREAMS and growth < 32 * 1024 else 1)


if __name__ == "__main__":
    main()
