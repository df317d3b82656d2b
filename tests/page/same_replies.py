#!/usr/bin/python3
"""What a command says with --json, its service says over HTTP: every service that has a command, on the same cases, errors
too. And every reply over HTTP is what the served OpenAPI document declares (judge: jsonschema of Debian, where it is there).

    tests/page/same_replies.py PROGRAM
"""
import json
import subprocess
import sys

from served import Served

try:
    import jsonschema
except ImportError:
    jsonschema = None

AT = "2026-01-14T21:00:00"
# service, is it a job, words of the command after --workspace, fields of the request. {w}: the workspace.
CASES = [
    ("sky", False, ["--at", AT, "--target", "M 42"], {"at": AT, "target": "M 42"}),
    ("sky", False, ["--at", AT, "--target", "M 999"], {"at": AT, "target": "M 999"}),
    ("tonight", False, ["--date", "2026-01-14", "--kind", "galaxy", "--count", "7"], {"date": "2026-01-14", "kind": "galaxy", "count": 7}),
    ("tonight", False, ["--date", "2026-13-14"], {"date": "2026-13-14"}),
    ("expose", False, ["--filters", "L,Ha", "--target", "M 42", "--at", AT], {"filters": ["L", "Ha"], "target": "M 42", "at": AT}),
    ("expose", False, ["--filters", "X"], {"filters": ["X"]}),
    ("compose", False, ["NGC 7000", "--position-angle-deg", "30", "--at", "2026-08-01"], {"target": "NGC 7000", "position_angle_deg": 30, "at": "2026-08-01"}),
    ("schedule", False, ["--at", AT, "--target", "M 42=L:1", "--target", "M 81=L:2,Ha:1"],
     {"at": AT, "targets": [{"name": "M 42", "filters": [{"name": "L", "needed_h": 1}]},
                            {"name": "M 81", "filters": [{"name": "L", "needed_h": 2}, {"name": "Ha", "needed_h": 1}]}]}),
    ("power", False, ["--night-h", "9", "--temperature-c=-7"], {"night_h": 9, "temperature_c": -7}),
    ("reduce", True, ["{w}/frames/night", "--out", "{w}/masters/{who}"], {"folder": "frames/night", "out": "masters/{who}"}),
    ("finish", True, ["{w}/masters/{who}/{master}", "--out", "{w}/pictures/{who}.png", "--set", "noise.strength=0.5", "--without", "crop"],
     {"masters": ["masters/{who}/{master}"], "out": "pictures/{who}.png",
      "changes": [{"step": "crop", "on": False}, {"step": "noise", "values": {"strength": 0.5}}]}),
    ("finish", True, ["{w}/masters/none.fits", "--out", "{w}/pictures/none.png"], {"masters": ["masters/none.fits"], "out": "pictures/none.png"}),
    ("measure", True, ["{w}/frames/night/light/light_L_0001.fits"], {"file": "frames/night/light/light_L_0001.fits"}),
    ("measure", True, ["{w}/site.toml"], {"file": "site.toml"}),
    ("solve", True, ["{w}/frames/night/light/light_L_0001.fits", "--annotation"], {"file": "frames/night/light/light_L_0001.fits", "annotation": True}),
    ("pole", True, ["{w}/frames/night/light/light_L_0001.fits", "{w}/frames/night/light/light_L_0002.fits"],
     {"files": ["frames/night/light/light_L_0001.fits", "frames/night/light/light_L_0002.fits"]}),
    ("rehearse", True, ["--out", "{w}/frames/small-{who}", "--filters", "L", "--lights", "1", "--darks", "1", "--flats", "1", "--bias", "1", "--dark-flats", "1", "--size", "300x200"],
     {"out": "frames/small-{who}", "filters": ["L"], "lights": 1, "darks": 1, "flats": 1, "bias": 1, "dark_flats": 1, "width_px": 300, "height_px": 200}),
    ("init", False, ["{w}/other-{who}", "--latitude-deg=-33.5", "--aperture-mm", "80"], {"folder": "other-{who}", "latitude_deg": -33.5, "aperture_mm": 80}),
    ("ingest", True, ["{w}/frames/night/light", "--preview"], {"source": "frames/night/light", "preview": True}),
    ("library", False, ["list", "--kind", "light"], {"kind": "light"}),
    ("calibration", True, ["--light-s", "300", "--filter", "L", "--headers-only"], {"light_s": [300], "filters": ["L"], "pixels": False}),
    ("sensor", True, ["--folder", "{w}/frames/night"], {"folder": "frames/night"}),
    ("sensor", True, ["{w}/frames/night/light/light_L_0001.fits"], {"files": ["frames/night/light/light_L_0001.fits"]}),
    ("catalogue", True, ["{w}/stars.csv", "--name", "mine-{who}"], {"files": ["stars.csv"], "name": "mine-{who}"}),
]
TIMES = {"seconds", "processor_seconds", "masters_kept"}  # the second reduction takes the masters of the first
NO_WORKSPACE = {"measure", "finish", "rehearse", "init"}  # commands that know none


def plain(value, who):
    """Without times, and with one name for both ways: each writes under its own."""
    if isinstance(value, dict):
        return {k: plain(v, who) for k, v in value.items() if k not in TIMES}
    if isinstance(value, list):
        return [plain(v, who) for v in value]
    return value.replace(who, "WHO") if isinstance(value, str) else value


def filled(value, **names):
    if isinstance(value, dict):
        return {k: filled(v, **names) for k, v in value.items()}
    if isinstance(value, list):
        return [filled(v, **names) for v in value]
    if not isinstance(value, str):
        return value
    for name, text in names.items():
        value = value.replace("{" + name + "}", text)
    return value


def by_command(s, service, words):
    words = [service, *words]
    if service == "catalogue":
        words.insert(1, "import")
    if service == "calibration":
        words.insert(0, "library")
    workspace = [] if service in NO_WORKSPACE else ["--workspace", str(s.folder)]
    done = subprocess.run([s.program, *words, *workspace, "--json", "--quiet"], capture_output=True, text=True)
    if done.returncode == 2:
        sys.exit(f"{service}: wrong usage: {done.stderr}")
    if done.stdout:  # a frame that no place fits is a reply too, though the command ends with 1
        return json.loads(done.stdout), None
    return None, done.stderr.strip().split("nightglass: ", 1)[-1]


def by_http(s, service, job, request):
    if job:
        ended = s.job(service, request)
        return (ended["reply"], None) if ended["state"] == "done" else (None, ended["error"])
    status, reply = s.ask(f"/api/{service}", request)
    return (reply, None) if status == 200 else (None, reply["error"])


def differing(a, b, where=""):
    if type(a) is not type(b) and not (isinstance(a, (int, float)) and isinstance(b, (int, float))):
        return [f"{where}: {a!r} and {b!r}"]
    if isinstance(a, dict):
        return [d for k in {**a, **b} for d in differing(a.get(k), b.get(k), f"{where}.{k}")]
    if isinstance(a, list):
        if len(a) != len(b):
            return [f"{where}: {len(a)} and {len(b)} items"]
        return [d for i, (x, y) in enumerate(zip(a, b)) for d in differing(x, y, f"{where}[{i}]")]
    return [] if a == b else [f"{where}: {a!r} and {b!r}"]


def declared(document, service, job, reply):
    if jsonschema is None:
        return []
    post = document["paths"][("/api/jobs/" if job else "/api/") + service]["post"]
    schema = post["x-job-reply"] if job else post["responses"]["200"]["content"]["application/json"]["schema"]
    return [f"{'.'.join(map(str, e.path))}: {e.message[:120]}" for e in jsonschema.Draft202012Validator(schema).iter_errors(reply)]


def main():
    if not differing({"a": [1, 2]}, {"a": [1, 3]}) or not differing({"a": 1}, {}):
        sys.exit("this test does not find a planted difference")
    if jsonschema is None:
        print("replies are not compared with the OpenAPI document: python3-jsonschema is not there")
    found, seen = [], set()
    with Served(sys.argv[1]) as s:
        (s.folder / "stars.csv").write_text("ra,dec,mag\n" + "".join(f"{83 + i % 40 * 0.01},{-5 + i // 40 * 0.01},{8 + i % 7}\n" for i in range(1600)))
        document = s.ask("/api/openapi.json")[1]
        for service, job, words, request in CASES:
            seen.add(service)
            masters = {who: (sorted(p.name for p in (s.folder / "masters" / who).glob("*.fits")) or ["none.fits"])[0] for who in ("by-command", "by-http")}
            a, why_a = by_command(s, service, filled(words, w=str(s.folder), who="by-command", master=masters["by-command"]))
            b, why_b = by_http(s, service, job, filled(request, who="by-http", master=masters["by-http"]))
            name = f"{service} {' '.join(words)[:60]}"
            found += [f"{name}: {d}" for d in differing(plain(a, "by-command"), plain(b, "by-http"))[:5]]
            found += [f"{name}: {d}" for d in differing(plain(why_a, "by-command"), plain(why_b, "by-http"))]
            if b is not None:
                found += [f"{name} is not as declared: {d}" for d in declared(document, service, job, b)[:5]]
        # Those that have no command are only compared with what is declared.
        for service, request in [("workspace", {}), ("night-band", {"date": "2026-01-14", "targets": ["M 42"]}), ("night-frames", {}), ("recipe", {}),
                                 ("settings", {"file": "rig"}), ("annotation", {"file": "masters/by-http/" + masters["by-http"]})]:
            seen.add(service)
            status, reply = s.ask(f"/api/{service}", request)
            found += [f"{service}: {reply}"] if status != 200 and service != "annotation" else []
            found += [f"{service} is not as declared: {d}" for d in (declared(document, service, False, reply)[:5] if status == 200 else [])]
        all_services = {p.rsplit("/", 1)[1] for p, what in document["paths"].items() if "post" in what and "{" not in p} - {"pair"}
        found += [f"{name} is compared by no case" for name in sorted(all_services - seen)]
    for line in found:
        print(line)
    print(f"same replies: {len(CASES)} cases, {len(seen)} services, {len(found)} differences")
    sys.exit(1 if found else 0)


if __name__ == "__main__":
    main()
