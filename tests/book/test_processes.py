"""Programs that write at once, and programs that are killed: the benchmark of the same, in small."""

import json
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]


def test_writers_at_once_and_writers_killed_lose_nothing_acknowledged():
    command = [
        sys.executable,
        "-m",
        "tests.benchmarks.kill",
        "--kills",
        "12",
        "--together",
        "3",
        "--each",
        "15",
    ]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    *story, last = done.stdout.splitlines()
    assert json.loads(last) == {"acknowledged_lost": 0, "corrupt": 0, "present_of_45": 45}
    assert int(story[0].split()[3]) > 0  # some had acknowledged something before they were killed


TOGETHER = """
import sys
from pathlib import Path
from straighten.book import open_book
with open_book(Path(sys.argv[1])) as book:
    for place in range(10):
        book.append("pump", "bench", {"by": sys.argv[2], "place": place})
"""


def test_two_programs_on_one_head_make_one_chain(path):
    from straighten.book import open_book

    with open_book(path) as book:
        book.append("pump", "head", {"by": "whoever began it"})
    commands = [[sys.executable, "-c", TOGETHER, str(path), name] for name in ("one", "two")]
    running = [subprocess.Popen(command, cwd=ROOT) for command in commands]
    assert [process.wait(60) for process in running] == [0, 0]
    with open_book(path) as book:
        entries = book.entries("pump", "bench")
        for name in ("one", "two"):
            assert [e.record["place"] for e in entries if e.record["by"] == name] == list(range(10))
        assert all(len(e.previous) == 1 for e in entries)
        assert not any(e.clock_back for e in entries)
        assert len({e.previous for e in entries}) == 20
        assert book.check() == []
