"""Reads layers.toml and judges includes by it. Used by layers_test.py, on the tree and on planted faults."""
import re
import tomllib

INCLUDE = re.compile(r'^\s*#\s*include\s*([<"])([^>"]+)[>"]', re.M)
CMAKE_LIBRARY = re.compile(r"ng_library\(\s*(\w+)([^)]*)\)")
# Headers of C++20 (ISO/IEC 14882:2020, tables 24 and 25), all that `base` may stand on.
STANDARD = set("""algorithm any array atomic barrier bit bitset charconv chrono codecvt compare complex concepts
    condition_variable coroutine deque exception execution filesystem format forward_list fstream functional future
    initializer_list iomanip ios iosfwd iostream istream iterator latch limits list locale map memory memory_resource mutex
    new numbers numeric optional ostream queue random ranges ratio regex scoped_allocator semaphore set shared_mutex
    source_location span sstream stack stdexcept stop_token streambuf string string_view strstream syncstream system_error
    thread tuple type_traits typeindex typeinfo unordered_map unordered_set utility valarray variant vector version
    cassert cctype cerrno cfenv cfloat cinttypes climits clocale cmath csetjmp csignal cstdarg cstddef cstdint cstdio
    cstdlib cstring ctime cuchar cwchar cwctype""".split())
# A folder of numbers opens no file, knows no JSON or database, prints nothing.
WORLDLY = re.compile(r"^(filesystem|fstream|iostream|cstdio|nlohmann/.*|toml.*|SQLiteCpp/.*|sqlite3\.h|fitsio\.h|fcntl\.h|"
                     r"unistd\.h|sys/.*|spdlog/.*)$")
IN_TESTS = ("_test.cpp", "_bench.cpp", "_slow.h")


def is_test(path):
    name = path.name
    return name.endswith(IN_TESTS) or name.startswith("test_")


class Layers:
    def __init__(self, text):
        table = tomllib.loads(text)
        self.ground = table["ground"]["order"]
        self.above = table["may_include"]
        self.numbers = set(table.get("numbers", {}).get("folders", []))
        self.debts = {tuple(part.strip() for part in arrow.split("->")) for arrow in table.get("debts", {})}

    def folders(self):
        return self.ground + list(self.above)

    def allowed(self, folder):
        """All folders that this one may include, itself too."""
        if folder in self.ground:
            return set(self.ground[:self.ground.index(folder) + 1])
        return {folder, *self.ground, *self.above[folder]}

    def cycles(self):
        """Folders that reach themselves by the arrows of the file itself."""
        def reached(folder, seen):
            for next_folder in self.allowed(folder) - {folder}:
                if next_folder in self.folders() and next_folder not in seen:
                    seen.add(next_folder)
                    reached(next_folder, seen)
            return seen
        return [f for f in self.folders() if f in reached(f, set())]

    def judge_file(self, src, path):
        """Findings about one source file."""
        place = path.relative_to(src)
        folder = place.parts[0]
        findings = []
        for bracket, name in INCLUDE.findall(path.read_text(encoding="utf-8")):
            if bracket == '"':
                if not (src / name).is_file():
                    findings.append(f"src/{place}: \"{name}\" is no file of ours; other libraries go in <>")
                    continue
                to = name.split("/")[0]
                if to not in self.allowed(folder) and (folder, to) not in self.debts:
                    findings.append(f"src/{place}: includes {name}, but {folder} may not include {to} (layers.toml)")
            elif is_test(path):
                continue
            elif folder == "base" and name not in STANDARD and not name.startswith(("sys/", "unistd", "pthread", "sched")):
                findings.append(f"src/{place}: includes <{name}>, but base stands on the standard library alone")
            elif folder in self.numbers and WORLDLY.match(name):
                findings.append(f"src/{place}: includes <{name}>, but {folder} opens no file, knows no JSON, prints nothing")
        return findings

    def judge(self, src):
        """Findings about a whole tree of sources."""
        findings = [f"layers.toml: {f} reaches itself" for f in self.cycles()]
        present = sorted(p.name for p in src.iterdir() if p.is_dir())
        findings += [f"src/{f}: the folder has no line in layers.toml" for f in present if f not in self.folders()]
        findings += [f"layers.toml: there is no folder src/{f}" for f in self.folders() if f not in present]
        known = [f for f in present if f in self.folders()]
        for folder in known:
            for path in sorted((src / folder).rglob("*")):
                if path.suffix in (".h", ".cpp"):
                    findings += self.judge_file(src, path)
            findings += self.judge_cmake(src, folder)
        return findings

    def judge_cmake(self, src, folder):
        """The link line must not reach further than the includes may."""
        path = src / folder / "CMakeLists.txt"
        text = path.read_text(encoding="utf-8") if path.is_file() else ""
        findings = []
        for name, rest in CMAKE_LIBRARY.findall(text):
            words = rest.split()
            depends = words[words.index("DEPENDS") + 1:] if "DEPENDS" in words else []
            for to in depends:
                if to in ("LIBRARIES", "INTERFACES"):
                    break
                if to not in self.allowed(folder):
                    findings.append(f"src/{folder}/CMakeLists.txt: {name} depends on {to}, which layers.toml forbids")
        return findings
