"""The desk in a real browser: drag, type, pin, save, bad input, two tabs, a server that is killed and started again."""

import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from sim.case import load_case

from .conftest import CASE

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
ROOT = Path(__file__).parents[2]
WAIT = 60_000  # ms, on a loaded machine
T1 = '[aria-label="tracer T1"]'
JUDGED = "#verdict.pass, #verdict.fail"

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(CHROMIUM is None, reason="no chromium on this machine"),
]


class Desk:
    """A desk in a process of its own."""

    def __init__(self, place: Path, port: int = 0) -> None:
        words = [
            sys.executable,
            "-m",
            "sim.cli",
            "desk",
            str(place),
            *(["--port", str(port)] if port else []),
        ]
        self.process = subprocess.Popen(words, cwd=ROOT, stdout=subprocess.PIPE, text=True)
        assert self.process.stdout is not None
        self.address = self.process.stdout.readline().split()[-1]
        self.port = int(re.findall(r":(\d+)/", self.address)[0])

    def kill(self) -> None:
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()

    def end(self) -> None:
        if self.process.poll() is None:
            self.process.terminate()
        self.process.wait(timeout=120)
        assert self.process.stdout is not None
        self.process.stdout.close()


@pytest.fixture
def case(tmp_path: Path) -> Path:
    path = tmp_path / "case.toml"
    path.write_text(CASE.replace("tracer.T1.clock = 7\n", ""), encoding="utf-8")
    return path


@pytest.fixture
def desk(case: Path) -> Iterator[Desk]:
    made = Desk(case)
    yield made
    made.end()


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    play = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    with play.sync_playwright() as driver:
        yield driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])


@pytest.fixture
def page(chromium: Any, desk: Desk) -> Iterator[Any]:
    context = chromium.new_context(viewport={"width": 1280, "height": 800})
    page = context.new_page()
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    show(page, desk)
    yield page
    context.close()
    assert errors == []


def show(page: Any, desk: Desk) -> None:
    page.set_default_timeout(WAIT)
    page.goto(desk.address)
    page.select_option("#fineness", "1.5")
    page.wait_for_selector(JUDGED)


def hold(page: Any, name: str) -> tuple[float, float]:
    """Middle of a handle, in dots."""
    box = page.locator(f"{name} .grip").first.bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def at(words: str) -> str:
    """The tracer where its position is told to begin with these words."""
    return f'{T1}[aria-valuetext^="{words}"]'


def value(page: Any, name: str = T1) -> str:
    return str(page.get_attribute(name, "aria-valuetext"))


def test_a_tracer_is_dragged_and_the_field_follows(page: Any) -> None:
    before = page.evaluate("document.querySelector('canvas').toDataURL()")
    left, middle = hold(page, "[aria-label='sensor S1']")[0], hold(page, T1)
    page.mouse.move(*middle)
    page.mouse.down()
    page.mouse.move(left + 3, middle[1] + 20, steps=5)
    page.wait_for_selector("text=bands not known")
    assert not page.locator(JUDGED).count()
    assert "pass" not in page.inner_text("#limits")  # what was judged is not of this state
    while page.evaluate("performance.getEntriesByName('drag-to-picture').length") < 2:
        page.wait_for_timeout(50)
    page.mouse.up()
    assert re.match("5:5|6:0", value(page))
    page.wait_for_selector(JUDGED)
    assert "three meshes" in page.inner_text("#mesh")
    assert "±" in page.inner_text("#numbers")
    assert page.evaluate("document.querySelector('canvas').toDataURL()") != before
    page.click("#undo")
    page.wait_for_selector(at("5:00"))
    page.click("#redo")
    page.wait_for_selector(at("5:5") + ", " + at("6:0"))


def test_arrow_keys_move_the_tracer_by_five_minutes(page: Any) -> None:
    page.focus(T1)
    for key, wanted in (
        ("ArrowRight", "5:05"),
        ("ArrowRight", "5:10"),
        ("ArrowLeft", "5:05"),
        ("PageUp", "6:05"),
    ):
        page.keyboard.press(key)
        page.wait_for_selector(at(wanted))
    page.wait_for_selector(JUDGED)
    page.keyboard.press("Control+z")
    page.wait_for_selector(at("5:05"))
    for _ in range(6):  # quicker than the desk answers
        page.keyboard.press("ArrowRight")
    page.wait_for_selector(JUDGED)
    assert value(page).startswith("5:35")


def test_a_key_is_typed_and_a_wrong_one_is_told_beside_it(page: Any) -> None:
    page.fill("#find", "ambient")
    key = page.locator("""[data-key='condition[1] "cold".ambient']""")
    key.fill("-30 degC")
    key.press("Enter")
    page.wait_for_selector("figcaption:has-text('-30.0 degC')")
    page.wait_for_selector(JUDGED)
    numbers = page.inner_text("#numbers")
    key.fill("-30 m")
    key.press("Enter")
    page.wait_for_selector("[aria-invalid=true]")
    fault = page.inner_text(f"#{key.get_attribute('aria-errormessage')}")
    assert '"-30 m"' in fault
    assert "accepted" in fault
    assert page.inner_text("#numbers") == numbers  # the last good field stays
    assert "-30.0 degC" in page.inner_text("figcaption >> nth=0")
    key.fill("-25 degC")
    key.press("Enter")
    page.wait_for_selector("figcaption:has-text('-25.0 degC')")
    assert page.locator("[aria-invalid=true]").count() == 0


def test_a_file_that_cannot_be_read_is_mended_and_saved(chromium: Any, case: Path) -> None:
    case.write_text(case.read_text().replace("clock = 5", "clock = 15").replace('"30 mm"', '"30 mn"'))
    desk = Desk(case)
    page = chromium.new_page()
    try:
        page.set_default_timeout(WAIT)
        page.goto(desk.address)
        page.wait_for_selector("text=cannot be read yet. 2 things are wrong")
        assert page.locator("[aria-invalid=true]").count() == 2
        assert "0 to 12" in page.inner_text("#groups")
        for key, text in (('tracer[1] "T1".clock', "5"), ("insulation.layer[1].thickness", "30 mm")):
            field = page.locator(f"[data-key='{key}']")
            field.fill(text)
            field.press("Enter")
            page.wait_for_selector(f"[data-key='{key}']:not([aria-invalid])")
        page.wait_for_selector(T1)
        page.wait_for_selector(JUDGED)
        page.click("#save")
        page.click("dialog button[value=yes]")
        page.wait_for_selector("text=Saved: case.toml")
        assert load_case(case).tracers[0].clock == 5.0
    finally:
        page.close()
        desk.end()


def test_an_episode_is_followed_and_the_verdict_comes_after_it(chromium: Any, case: Path) -> None:
    case.write_text(
        f'{case.read_text()}\n[[episode]]\nname = "E1"\ncondition = "cold"\nlasts = "1 h"\n'
        '[[episode.change]]\nat = "0.5 h"\nambient = "-25 degC"\n'
    )
    desk = Desk(case)
    page = chromium.new_page()
    try:
        page.set_default_timeout(WAIT)
        page.goto(desk.address)
        page.select_option("#fineness", "1.5")
        page.click("text=Follow the episode E1")  # the three meshes give way
        page.wait_for_selector("#verdict:has-text('No verdict yet')")
        moment = page.locator("#below input[type=range]")
        moment.wait_for()
        first = page.evaluate("document.querySelector('#below canvas').toDataURL()")
        moment.focus()
        page.keyboard.press("End")
        assert "1.00 h" in page.inner_text("#below output")
        assert page.evaluate("document.querySelector('#below canvas').toDataURL()") != first
        page.wait_for_selector(JUDGED)
        assert "of the sections alone" in page.inner_text("#verdict .word")
        assert "episode E1" in page.inner_text("#verdict .left")
    finally:
        page.close()
        desk.end()


def test_whatever_can_be_used_has_a_name(page: Any) -> None:
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    tree = page.context.new_cdp_session(page).send("Accessibility.getFullAXTree")["nodes"]
    used = ("button", "textbox", "searchbox", "combobox", "slider", "radio", "table", "figure", "image")
    shown = [node for node in tree if not node["ignored"] and node["role"]["value"] in used]
    assert len(shown) > 60
    assert [node["role"]["value"] for node in shown if not node["name"]["value"]] == []


def test_a_pinned_state_stands_beside_the_next(page: Any) -> None:
    page.click("#pin")
    page.focus(T1)
    page.keyboard.press("PageUp")
    page.wait_for_selector("text=clock: 5 -> 6")
    page.wait_for_selector(JUDGED)
    assert page.locator(".pane:visible").count() == 2
    assert "change" in page.inner_text("#numbers")
    page.check("input[value=difference]")
    page.wait_for_selector("text=Now less pinned")
    assert page.inner_text("#unit") == "K"
    assert float(page.inner_text("#low")) == -float(page.inner_text("#high"))


def test_a_case_is_saved_with_its_comments_and_not_over_a_changed_file(page: Any, case: Path) -> None:
    page.focus(T1)
    page.keyboard.press("PageUp")
    page.wait_for_selector("#undo:enabled")
    page.click("#save")
    page.click("dialog button[value=yes]")
    page.wait_for_selector("text=Saved: case.toml")
    assert "clock = 6 # by the drawing" in case.read_text()
    page.focus(T1)
    page.keyboard.press("PageUp")
    page.wait_for_selector("#undo:enabled")
    case.write_text(case.read_text().replace("30 mm", "50 mm"))
    page.click("#save")
    page.click("dialog button[value=yes]")
    page.wait_for_selector("text=has changed since it was read")
    page.click("dialog button[value=no]")
    page.wait_for_selector("text=Not saved")
    assert load_case(case).tracers[0].clock == 6.0


def moved_apart(page: Any, other: Any) -> None:
    """An hour down on one page, an hour up on the other: each shows its own."""
    for one, key in ((page, "PageUp"), (other, "PageDown")):
        one.focus(T1)
        one.keyboard.press(key)
    page.wait_for_selector(JUDGED)
    other.wait_for_selector(JUDGED)
    assert (value(page)[:4], value(other)[:4]) == ("6:00", "4:00")


def test_two_tabs_do_not_disturb_each_other(page: Any, desk: Desk) -> None:
    other = page.context.new_page()
    show(other, desk)
    moved_apart(page, other)
    assert not other.locator("dialog[open]").count()


def test_two_desks_do_not_disturb_each_other(page: Any, case: Path) -> None:
    second = Desk(case)
    try:
        other = page.context.new_page()
        show(other, second)
        moved_apart(page, other)
        token = second.address.split("/")[3]
        reply = page.request.get(page.url.replace(page.url.split("/")[3], token))
        assert reply.status == 403  # each has a token of its own
    finally:
        second.end()


def test_a_server_that_was_killed_is_said_and_changes_are_taken_up_again(
    page: Any, desk: Desk, case: Path
) -> None:
    page.focus(T1)
    page.keyboard.press("PageUp")
    page.wait_for_selector("#undo:enabled")
    desk.kill()
    page.keyboard.press("PageUp")
    page.wait_for_selector("#notice.gone")
    assert "does not answer" in page.inner_text("#notice")
    again = Desk(case, desk.port)
    try:
        page.keyboard.press("PageUp")
        page.wait_for_selector("text=started anew")  # a new token: the old page gets 403
        page.goto(again.address)
        page.click("dialog button[value=yes]")
        page.wait_for_selector(at("6:00"))
    finally:
        again.end()


def test_nothing_is_fetched_from_elsewhere(chromium: Any, desk: Desk) -> None:
    page = chromium.new_page()
    seen: list[str] = []
    page.on("request", lambda request: seen.append(request.url))
    page.goto(desk.address)
    page.wait_for_selector("#verdict.pass, #verdict.fail", timeout=WAIT)
    assert [url for url in seen if not url.startswith((desk.address, "data:"))] == []
    page.close()


def test_workers_end_with_a_killed_server(page: Any, desk: Desk) -> None:
    def workers() -> list[str]:
        program = subprocess.run(["ps", "-eo", "ppid,pid,args"], capture_output=True, text=True, check=True)
        lines = [line.split() for line in program.stdout.splitlines() if "sim.desk.worker" in line]
        return [pid for parent, pid, *_ in lines if parent == str(desk.process.pid)]

    for _ in range(200):
        if len(pids := workers()) == 2:
            break
        subprocess.run(["sleep", "0.1"], check=True)
    assert len(pids) == 2
    desk.kill()
    for _ in range(200):
        if not any(Path(f"/proc/{pid}").exists() for pid in pids):
            return
        subprocess.run(["sleep", "0.1"], check=True)
    raise AssertionError(f"still there: {pids}")
