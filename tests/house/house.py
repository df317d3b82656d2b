"""What the tests of the house share: where the sources are, and how a finding is told."""
import pathlib
import sys

ROOT = pathlib.Path(__file__).resolve().parents[2]
SKIP_CODE = 77  # CTest: SKIP_RETURN_CODE
NOT_OURS = {"build", ".git", ".cache", "npm", "node_modules", "__pycache__"}


def files(suffixes, below="."):
    """Files of ours with one of these endings, sorted."""
    found = []
    for path in sorted((ROOT / below).rglob("*")):
        if path.suffix in suffixes and path.is_file() and not NOT_OURS.intersection(path.relative_to(ROOT).parts) and \
                not path.relative_to(ROOT).parts[0].startswith("demo-night"):
            found.append(path)
    return found


def finish(what, findings):
    """Ends the test: the findings, or one line that says what was looked at."""
    for line in findings:
        print(line)
    print(f"{what}: {len(findings)} findings")
    sys.exit(1 if findings else 0)


def skip(why):
    print(f"SKIP: {why}")
    sys.exit(SKIP_CODE)
