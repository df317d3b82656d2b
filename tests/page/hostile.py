#!/usr/bin/python3
"""Hostile requests, 10,000 of them by seeded chance: paths that lead out, huge and malformed bodies, wrong hosts and origins, no
token, broken HTTP, clients that send nothing. Each is refused in one sentence or cut off; nothing outside of the workspace
is told, the program goes on answering, and its memory stays.

    tests/page/hostile.py PROGRAM [COUNT]
"""
import collections
import json
import random
import re
import socket
import sys
import time
import urllib.parse

from served import Served

SECRET = "not-for-you-7319"
HEAD = "{method} {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n{more}\r\n"


def resident_kib(pid):
    with open(f"/proc/{pid}/status", encoding="utf-8") as status:
        return next(int(line.split()[1]) for line in status if line.startswith("VmRSS"))


def send(address, data, wait_s=10):
    """Status (0: cut off without one, or nothing came in time) and body."""
    with socket.create_connection(address, timeout=wait_s) as s:
        try:
            s.sendall(data)
        except OSError:
            pass  # refused before all was sent
        answer = b""
        try:
            while part := s.recv(65536):
                answer += part
                head, end, body = answer.partition(b"\r\n\r\n")
                length = re.search(rb"Content-Length: (\d+)", head)
                if end and length and len(body) >= int(length[1]) or len(answer) > 4 << 20:
                    break
        except OSError:
            pass
    head, _, body = answer.partition(b"\r\n\r\n")
    words = head.split(b" ")
    return (int(words[1]) if len(words) > 1 and words[1].isdigit() else 0), body


def get(host, path, more=""):
    return HEAD.format(method="GET", path=path, host=host, more=more).encode("utf-8", "surrogateescape")


def post(host, path, body, more="Content-Type: application/json\r\n"):
    return HEAD.format(method="POST", path=path, host=host, more=f"{more}Content-Length: {len(body)}\r\n").encode() + body


def outwards(r):
    steps = r.choice(["../", "..%2f", "%2e%2e/", "%2e%2e%2f", "..\\", "....//", "%252e%252e/", "frames/../../", "/"]) * r.randint(1, 6)
    return steps + r.choice(["secret.txt", "etc/passwd", "proc/self/environ", "secret.txt%00.png", "secret.png"])


def noise(r):
    return bytes(r.randrange(256) for _ in range(r.randint(1, 400)))


def nested(r):
    return b"[" * r.randint(1000, 200000)


def wrong_json(r):
    services = ["sky", "power", "expose", "schedule", "settings", "night-band", "night-frames", "recipe", "library", "annotation", "init", "jobs/measure", "jobs/reduce",
                "jobs/finish", "jobs/ingest", "jobs/catalogue", "jobs/rehearse", "pair"]
    out = outwards(r)
    body = r.choice([
        b"{", b"nul", b"", b"[]", b"42", b'"x"', b'{"a":' * r.randint(1, 3000), b"\xff\xfe{}", b'{"night_h": 1e999}', b'{"night_h": "9"}', b"[" * 150000 + b"]" * 150000, b'{"target":' * 5000 + b"1" + b"}" * 5000,
        json.dumps({"file": urllib.parse.unquote(out)}).encode(), json.dumps({"folder": urllib.parse.unquote(out), "out": "../x"}).encode(),
        json.dumps({"source": "/etc"}).encode(), json.dumps({"picture": urllib.parse.unquote(out)}).encode(), json.dumps({"masters": [out]}).encode(),
        json.dumps({"files": ["/etc/passwd"], "name": "../../x"}).encode(), json.dumps({"file": "site", "seen": "x", "changes": [{"key": "name", "value": "x" * 5000}]}).encode(),
        json.dumps({"targets": ["M 42"] * 5000}).encode(), json.dumps({"code": "A" * 4000}).encode(), nested(r), noise(r)])
    return services, body


def attempt(r, host, kinds):
    kind = r.choice(kinds)
    if kind == "path":
        where = r.choice(["/{}", "/api/file?path={}", "/api/picture?path={}", "/api/picture/tile?path={}&level=0&column=0&row=0&plane=0", "/assets/{}"])
        return kind, get(host, where.format(outwards(r)))
    if kind == "json":
        services, body = wrong_json(r)
        return kind, post(host, "/api/" + r.choice(services), body)
    if kind == "number":
        value = r.choice(["-1", "1e9", "99999999999999999999", "0x10", "", "%00", "nan", "2147483648"])
        return kind, get(host, f"/api/picture/tile?path=masters/m.fits&level={value}&column={value}&row={value}&plane={value}")
    if kind == "host":
        name = r.choice(["elsewhere.example", "127.0.0.1", "localhost:1", "", "127.0.0.1.elsewhere.example:" + host.split(":")[1], "a" * 3000])
        return kind, get(name, r.choice(["/", "/api/jobs"]))
    if kind == "origin":
        more = r.choice(["Origin: http://elsewhere.example\r\n", "Origin: null\r\n", "Sec-Fetch-Site: cross-site\r\n", f"Origin: https://{host}\r\n"])
        return kind, post(host, "/api/power", b"{}", more + "Content-Type: application/json\r\n")
    if kind == "form":
        return kind, post(host, "/api/power", b"{}", r.choice(["Content-Type: text/plain\r\n", "Content-Type: application/x-www-form-urlencoded\r\n", ""]))
    if kind == "huge":
        length = r.choice([2 << 20, 1 << 40, -5])
        return kind, HEAD.format(method="POST", path="/api/power", host=host, more=f"Content-Type: application/json\r\nContent-Length: {length}\r\n").encode() + b" " * r.choice([0, 3 << 20])
    if kind == "http":
        return kind, r.choice([noise(r), b"GET\r\n\r\n", b"GET / HTTP/9.9\r\n\r\n", b"BREW / HTTP/1.1\r\nHost: x\r\n\r\n", b"GET /" + b"a" * 20000 + b" HTTP/1.1\r\n\r\n",
                               b"GET / HTTP/1.1\r\n" + b"X: y\r\n" * 5000 + b"\r\n", b"\x16\x03\x01\x02\x00\x01\x00", b"POST /api/power HTTP/1.1\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n"])
    assert kind == "range"
    part = r.choice(["0-0", "-", "-1", "5-"])
    return kind, get(host, r.choice(["/", "/theme.js", "/icon.svg"]), "Range: bytes=" + ",".join([part] * r.randint(1, 8000 // (len(part) + 1))) + "\r\n")


KINDS = ["path", "json", "json", "number", "host", "origin", "form", "huge", "http", "range"]


def hostile_round(s, address, host, count, seed, needs_token, kinds=KINDS):
    r = random.Random(seed)
    found, statuses = [], collections.Counter()
    for i in range(count):
        kind, data = attempt(r, host, kinds)
        try:
            # What is no whole request is waited for by the server; we have better things to do.
            status, body = send(address, data, 0.2 if kind in ("http", "huge") else 10)
        except OSError as error:
            found.append(f"request {i} ({kind}): not even a connection: {error}")
            if s.server.poll() is not None:
                break
            continue
        statuses[status] += 1
        if SECRET.encode() in body or b"root:" in body:
            found.append(f"request {i} ({kind}): tells what lies outside: {data[:200]!r}")
        if status >= 500 and status != 503:
            found.append(f"request {i} ({kind}): {status}: {data[:200]!r}")
        if status == 200 and needs_token and data[:9] != b"GET / HTT" and b" /api/" in data[:12]:
            found.append(f"request {i} ({kind}): answered without a token: {data[:120]!r}")
    return found, statuses


def main():
    count = int(sys.argv[2]) if len(sys.argv) > 2 else 10000
    found = []
    with Served(sys.argv[1], lights=0) as s:
        (s.folder.parent / "secret.txt").write_text(SECRET)
        (s.folder.parent / "secret.png").write_text(SECRET)
        (s.folder / "pictures").mkdir(exist_ok=True)
        (s.folder / "pictures" / "link.png").symlink_to(s.folder.parent / "secret.png")
        before_files = {p.name for p in s.folder.parent.iterdir()}
        address, host = ("127.0.0.1", s.port), f"127.0.0.1:{s.port}"
        if send(address, get(host, "/api/file?path=pictures/link.png"))[0] == 200:
            found.append("a link leads out of the workspace")
        # What the first requests take is no leak.
        hostile_round(s, address, host, count // 10, 1, False)
        early = resident_kib(s.server.pid)
        begun = time.monotonic()
        more, statuses = hostile_round(s, address, host, count, 2, False)
        found += more
        late = resident_kib(s.server.pid)
        # Clients that hold a connection and send nothing, or a letter at a time.
        silent = [socket.create_connection(address) for _ in range(60)]
        for k, one in enumerate(silent):
            one.send(b"POST /api/power HTTP/1.1\r\nHost: "[: 5 + k % 28])
        status, body = send(address, post(host, "/api/power", b"{}"))
        found += [] if status == 200 else [f"while 60 are silent, another gets {status}: {body[:200]!r}"]
        for one in silent:
            one.close()
        status, reply = s.ask("/api/workspace", {})
        found += [] if status == 200 else [f"afterwards the workspace is not told: {reply}"]
        extra = {p.name for p in s.folder.parent.iterdir()} - before_files
        found += [f"files came into being outside of the workspace: {extra}"] if extra else []
        # 256 MiB: four stores of memory with their gaps, and what a hundred jobs were asked; 10,000 requests of up to 3 MiB went by.
        found += [f"memory grew from {early} to {late} KiB"] if late - early > 256 << 10 else []
        print(f"{count} requests in {time.monotonic() - begun:.0f} s, statuses {dict(sorted(statuses.items()))}, memory {early} -> {late} KiB")
    # The same by a neighbour without a token.
    with Served(sys.argv[1], "--lan", lights=0) as s:
        if len(s.about["addresses"]) < 2:
            print("without a token: not tried, this machine is on no network")
        else:
            there = urllib.parse.urlparse(s.about["addresses"][1])
            more, statuses = hostile_round(s, (there.hostname, there.port), f"{there.hostname}:{there.port}", count // 10, 3, True)
            found += more
            print(f"without a token: {count // 10} requests, statuses {dict(sorted(statuses.items()))}")
    for line in found[:40]:
        print(line)
    print(f"hostile: {len(found)} findings")
    sys.exit(1 if found else 0)


if __name__ == "__main__":
    main()
