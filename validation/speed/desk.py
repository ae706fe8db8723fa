"""How long a picture of the desk takes from the hand's movement, in a browser: `python -m validation.speed.desk`.

A tracer of the winter case is dragged around the clock with a real pointer. For each picture that is drawn, the time
from the pointer's event to the end of drawing, and the processor time that the desk's worker took; the memory of
server, workers and page over the whole of it; the time from the address to the first field. Needs playwright and
chromium. A loaded machine shows in the first number, less in the processor time; `chrt -r 1` before the command runs
it ahead of whatever else the machine does, and the page says so.
"""

import argparse
import os
import re
import shutil
import subprocess
import sys
import time
from dataclasses import dataclass, field
from math import cos, pi, sin
from pathlib import Path
from typing import Any

import numpy as np

from validation.pages import rendered

ROOT = Path(__file__).parents[2]
CASE = ROOT / "cases" / "winter-brine.toml"
BARS = {"median": 120.0, "95th percentile": 250.0}
"""From the hand to the picture, ms, on two quiet cores."""
FIRST_FIELD = 3.0
"""From the address to the first field, s."""
TURN = 24.0
"""Time of one turn of the tracer around the clock, s."""
TICKS = os.sysconf("SC_CLK_TCK")
WATCH = """() => { window.seen = []; new PerformanceObserver((list) => { for (const e of list.getEntries())
    if (e.name === 'drag-to-picture') window.seen.push(e.duration); }).observe({ entryTypes: ['measure'] }); }"""


@dataclass
class Measured:
    """pictures: ms each; processor, browser: of the processes of desk and browser, ms a picture; first: s; memory:
    (minute, desk MB, page MB)."""

    pictures: list[float] = field(default_factory=list)
    processor: float = float("nan")
    browser: float = float("nan")
    first: float = float("nan")
    memory: list[tuple[float, float, float]] = field(default_factory=list)


def measure(minutes: float) -> Measured:
    """Drag for so long. Raises ImportError without playwright, FileNotFoundError without chromium."""
    from playwright.sync_api import sync_playwright

    browser = shutil.which("chromium") or shutil.which("chromium-browser")
    if browser is None:
        raise FileNotFoundError("chromium is not on this machine")
    measured = Measured()
    desk = subprocess.Popen(
        [sys.executable, "-m", "sim.cli", "desk", str(CASE)], cwd=ROOT, stdout=subprocess.PIPE, text=True
    )
    assert desk.stdout is not None
    try:
        address = re.findall(r"http\S+", desk.stdout.readline())[0]
        with sync_playwright() as driver:
            page = driver.chromium.launch(executable_path=browser, args=["--no-sandbox"]).new_page()
            page.set_default_timeout(120_000)
            begin = time.perf_counter()
            page.goto(address)
            page.wait_for_selector("#low:not(:empty)")  # the scale is written once the field is painted
            measured.first = time.perf_counter() - begin
            page.wait_for_selector("#verdict.pass, #verdict.fail")
            _dragged(page, desk.pid, minutes, measured)
    finally:
        desk.terminate()
        desk.wait(timeout=30)
        desk.stdout.close()
    return measured


def _dragged(page: Any, pid: int, minutes: float, measured: Measured) -> None:
    """Turn the tracer with the pointer, and watch."""
    page.evaluate(WATCH)
    plate = page.locator(".plate").first.bounding_box()
    grip = page.locator(".knob.tracer .grip").bounding_box()
    middle = plate["x"] + plate["width"] / 2, plate["y"] + plate["height"] / 2
    x, y = grip["x"] + grip["width"] / 2, grip["y"] + grip["height"] / 2
    start, radius = np.arctan2(x - middle[0], middle[1] - y), float(np.hypot(x - middle[0], y - middle[1]))
    page.mouse.move(x, y)
    page.mouse.down()
    workers, begin, next_look = _below(pid), time.perf_counter(), 0.0
    browser = [one for one in _below(os.getpid()) if one not in (pid, *workers) and _is_browser(one)]
    before, drawn = sum(map(_ticks, [pid, *workers])), sum(map(_ticks, browser))
    while (gone := time.perf_counter() - begin) < 60 * minutes:
        turn = start + 2 * pi * gone / TURN
        page.mouse.move(middle[0] + radius * sin(turn), middle[1] - radius * cos(turn))
        page.wait_for_timeout(12)
        if gone >= next_look:
            heap = _heap(page)
            desk = sum(map(_resident, [pid, *workers]))
            measured.memory.append((gone / 60, desk, heap))
            next_look = gone + max(5.0, 60 * minutes / 20)
    used, painted = sum(map(_ticks, [pid, *workers])) - before, sum(map(_ticks, browser)) - drawn
    measured.pictures = page.evaluate("window.seen")
    a_picture = 1e3 / TICKS / max(len(measured.pictures), 1)
    measured.processor, measured.browser = used * a_picture, painted * a_picture
    page.mouse.up()


def _heap(page: Any) -> float:
    """Memory that the page still refers to, MB: what only waits to be collected is collected first."""
    browser = page.context.new_cdp_session(page)
    browser.send("HeapProfiler.collectGarbage")
    heap = browser.send("Runtime.getHeapUsage")["usedSize"] / 1e6
    browser.detach()
    return float(heap)


def _below(pid: int) -> list[int]:
    """Processes that a process started, and those that they did."""
    rows = subprocess.run(["ps", "-eo", "ppid,pid"], capture_output=True, text=True, check=True).stdout
    pairs = [tuple(map(int, line.split())) for line in rows.splitlines()[1:]]
    children = [child for parent, child in pairs if parent == pid]
    return children + [one for child in children for one in _below(child)]


def _is_browser(pid: int) -> bool:
    """Whether a process is one of the browser's own, and not of what steers it."""
    program = Path(f"/proc/{pid}/exe")
    return program.exists() and "chrom" in program.resolve().name


def _ticks(pid: int) -> int:
    if not Path(f"/proc/{pid}/stat").exists():
        return 0
    stat = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
    return int(stat[11]) + int(stat[12])


def _resident(pid: int) -> float:
    """Memory of a process, MB."""
    pages = int(Path(f"/proc/{pid}/statm").read_text(encoding="ascii").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def page_of(measured: Measured, minutes: float) -> str:
    """The measured numbers beside their bars, as Markdown."""
    times = np.array(measured.pictures)
    return rendered(
        Path(__file__).with_name("desk.md.jinja"),
        case=CASE.name,
        minutes=minutes,
        m=measured,
        numbers={"median": np.median(times), "95th percentile": np.percentile(times, 95)},
        bars=BARS,
        first_field=FIRST_FIELD,
        cores=os.cpu_count(),
        load=os.getloadavg()[0],
        ahead=os.sched_getscheduler(0) != os.SCHED_OTHER,
    )


def main() -> None:
    """Measure, print, and write the page where one is named."""
    parser = argparse.ArgumentParser(description="How quickly the desk's picture follows the hand.")
    parser.add_argument("--minutes", type=float, default=10.0, help="how long the tracer is dragged")
    parser.add_argument("--page", type=Path, help="Markdown file to write")
    given = parser.parse_args()
    text = page_of(measure(given.minutes), given.minutes)
    print(text)
    if given.page is not None:
        given.page.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
