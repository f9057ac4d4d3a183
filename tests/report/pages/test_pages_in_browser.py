"""Pages in a real browser: no error, nothing fetched, no sideways scrolling, print, replay.

Talks to headless Chromium over its debugging pipe with the standard library alone. A missing
browser is a failure, not a skip: a page that nobody has opened has not been tested.
"""

from __future__ import annotations

import base64
import fcntl
import json
import os
import shutil
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from shared.results import from_outcomes
from shared.traps import plain_trap
from soundergate.engine.outcomes import Outcomes
from soundergate.engine.trace.one_night import trace_night
from soundergate.engine.trace.trace import Trace
from soundergate.report.pages.comparison import comparison_page
from soundergate.report.pages.night import night_page
from soundergate.report.pages.page import write
from soundergate.report.pages.run import run_page
from soundergate.report.pages.season import season_page
from soundergate.report.pages.study import study_page
from soundergate.scenario.loading import loads
from soundergate.seasons.season import season
from soundergate.studies.worlds.tornado import DifferenceTornado

pytestmark = pytest.mark.slow

FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--remote-debugging-pipe",
]
SCENARIO = plain_trap(json.dumps("Invented: <script>alert('title')</script> & \"sons\" </title>"))


class Browser:
    """Chromium on the other end of two pipes: commands out, answers and events in."""

    def __init__(self, folder: Path) -> None:
        program = next(
            filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None
        )
        assert program, "no chromium, chromium-browser or google-chrome on the path: install one"
        to_child, self._out = os.pipe()
        self._in, from_child = os.pipe()
        # the browser reads commands from descriptor 3 and answers on 4; copies well above those
        # two cannot be overwritten while they are put in place
        ends = [fcntl.fcntl(end, fcntl.F_DUPFD, 64) for end in (to_child, from_child)]

        def in_place() -> None:
            for end, number in zip(ends, (3, 4), strict=True):
                os.dup2(end, number)

        self._process = subprocess.Popen(
            [program, *FLAGS, f"--user-data-dir={folder}", "about:blank"],
            pass_fds=(3, 4),
            preexec_fn=in_place,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        for end in (to_child, from_child, *ends):
            os.close(end)
        self._buffer = b""
        self._number = 0
        self.events: list[dict[str, Any]] = []
        self.session: str | None = None

    def close(self) -> None:
        self._process.terminate()
        self._process.wait(300)
        os.close(self._in)
        os.close(self._out)

    def call(self, method: str, **params: Any) -> dict[str, Any]:
        self._number += 1
        message: dict[str, Any] = {"id": self._number, "method": method, "params": params}
        if self.session:
            message["sessionId"] = self.session
        os.write(self._out, json.dumps(message).encode() + b"\0")
        while True:
            answer = self._receive()
            if answer.get("id") == self._number:
                assert "error" not in answer, f"{method}: {answer['error']}"
                return answer["result"]
            self.events.append(answer)

    def _receive(self) -> dict[str, Any]:
        while b"\0" not in self._buffer:
            piece = os.read(self._in, 1 << 20)
            assert piece, "the browser went away"
            self._buffer += piece
        line, self._buffer = self._buffer.split(b"\0", 1)
        return json.loads(line)

    def open(self, path: Path, width: int = 1100, **media: str) -> None:
        """A fresh tab with the page, at a width in CSS pixels, with media features set."""
        self.session = None
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        session = self.call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        self.session = session
        self.events.clear()
        for domain in ("Page", "Network", "Runtime", "Log"):
            self.call(f"{domain}.enable")
        self.call(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=800,
            deviceScaleFactor=1,
            mobile=width < 500,
        )
        features = [{"name": name.replace("_", "-"), "value": v} for name, v in media.items()]
        self.call("Emulation.setEmulatedMedia", features=features)
        self.call("Page.navigate", url=path.as_uri())
        self.wait("document.readyState === 'complete'")

    def run(self, script: str) -> Any:
        result = self.call("Runtime.evaluate", expression=script, returnByValue=True)
        assert "exceptionDetails" not in result, result["exceptionDetails"]
        return result["result"].get("value")

    def wait(self, condition: str, seconds: float = 300.0) -> None:
        end = time.monotonic() + seconds
        while not self.run(condition):
            assert time.monotonic() < end, f"never true: {condition}"
            time.sleep(0.05)

    def wait_for(self, method: str) -> None:
        """Until the browser tells of an event that it has not told of before."""
        while all(event["method"] != method for event in self.events):
            self.events.append(self._receive())

    def frames(self, number: int) -> None:
        """Until the page has been painted so many times more."""
        self.run(
            f"window.left = {number};"
            "requestAnimationFrame(function painted() {"
            "  if (--window.left > 0) requestAnimationFrame(painted); })"
        )
        self.wait("window.left <= 0")

    def complaints(self) -> list[str]:
        """Console errors, uncaught exceptions and log entries so far."""
        self.run("0")  # collects events that are under way
        found = []
        for event in self.events:
            params = event.get("params", {})
            if event["method"] == "Runtime.exceptionThrown":
                found.append(str(params["exceptionDetails"]))
            elif event["method"] == "Log.entryAdded" and params["entry"]["level"] != "verbose":
                found.append(params["entry"]["text"])
            elif event["method"] == "Runtime.consoleAPICalled":
                found.append(str(params["args"]))
        return found

    def requests(self) -> list[str]:
        """Addresses asked for so far, other than data already in the page."""
        sent = [e["params"] for e in self.events if e["method"] == "Network.requestWillBeSent"]
        urls = [params["request"]["url"] for params in sent]
        return [url for url in urls if not url.startswith("data:")]


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    started = Browser(tmp_path_factory.mktemp("profile"))
    yield started
    started.close()


@pytest.fixture(scope="module")
def page(
    tmp_path_factory: pytest.TempPathFactory, arms: dict[str, Outcomes], two_gates: Trace
) -> Path:
    result = from_outcomes(next(iter(arms.values())), scenario=loads(SCENARIO, "alder.toml"))
    target = tmp_path_factory.mktemp("page") / "report.html"
    return write(run_page(result, traces=[two_gates, two_gates]), target)


def test_a_page_opens_clean_and_alone(browser: Browser, page: Path) -> None:
    browser.open(page)
    assert browser.complaints() == []
    assert browser.requests() == [page.as_uri()]
    assert browser.run("document.title").startswith("Invented: <script>alert('title')</script>")
    assert (
        browser.run("document.querySelectorAll('script').length") == 3
    )  # two of data, one of ours


def test_the_checks_of_this_file_can_fail(browser: Browser, tmp_path: Path) -> None:
    bad = tmp_path / "bad.html"
    bad.write_text(
        "<title>bad</title><img src='missing.png'><div style='width:900px'>wide</div>"
        "<script>console.error('oh'); throw new Error('no')</script>"
    )
    browser.open(bad, width=360)
    assert len(browser.complaints()) >= 2
    assert len(browser.requests()) == 2
    assert browser.run("document.documentElement.scrollWidth") > 360


@pytest.mark.parametrize("width", [360, 768, 1400])
def test_nothing_scrolls_sideways(browser: Browser, page: Path, width: int) -> None:
    browser.open(page, width=width)
    assert browser.run("document.documentElement.scrollWidth") <= width
    assert browser.run("window.innerWidth") == width
    sticking_out = """[...document.querySelectorAll('body *')].filter(e =>
        !e.closest('.scroll') && e.getBoundingClientRect().right > innerWidth + 1).length"""
    assert browser.run(sticking_out) == 0


def test_it_prints_to_pdf(browser: Browser, page: Path) -> None:
    browser.open(page)
    printed = base64.b64decode(browser.call("Page.printToPDF", preferCSSPageSize=True)["data"])
    assert printed.startswith(b"%PDF-")
    assert printed.count(b"/Type /Page\n") + printed.count(b"/Type /Page ") >= 2


def luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour "rgb(r, g, b)" (WCAG 2.2, definition)."""
    channels = [int(part) / 255 for part in colour[colour.index("(") + 1 : -1].split(",")[:3]]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_stands_out_in_light_and_dark(browser: Browser, page: Path, scheme: str) -> None:
    """WCAG 2.2 success criterion 1.4.3: contrast of text at least 4.5 to 1."""
    browser.open(page, prefers_color_scheme=scheme)
    script = """[...new Set(['p', 'td', 'th', 'a', 'button', 'cite', '.note', '.kind', 'dt', 'li']
      .flatMap(s => [...document.querySelectorAll('main ' + s)]).map(e => {
        let under = e;
        while (getComputedStyle(under).backgroundColor === 'rgba(0, 0, 0, 0)')
          under = under.parentElement;
        return getComputedStyle(e).color + '|' + getComputedStyle(under).backgroundColor;
      }))]"""
    pairs = browser.run(script)
    assert len(pairs) >= 3
    for pair in pairs:
        light, dark = sorted((luminance(colour) for colour in pair.split("|")), reverse=True)
        assert (light + 0.05) / (dark + 0.05) >= 4.5, pair
    ground = browser.run("getComputedStyle(document.documentElement).backgroundColor")
    assert (luminance(ground) < 0.2) == (scheme == "dark")


def test_without_script_the_night_is_still_there(browser: Browser, page: Path) -> None:
    browser.session = None
    browser.open(page)
    browser.call("Emulation.setScriptExecutionDisabled", value=True)
    browser.events.clear()
    browser.call("Page.reload")
    browser.wait_for("Page.loadEventFired")
    browser.call("Emulation.setScriptExecutionDisabled", value=False)
    assert browser.run("document.querySelector('.controls').hidden") is True
    assert browser.run("document.querySelectorAll('.plan .pig:not([display])').length") == 11
    assert browser.run("document.querySelectorAll('.events li').length") > 50
    assert "The release, 6 min 51.0 s after the first pig came (1:07 after the set)" in browser.run(
        "document.querySelector('.now').textContent"
    )


def test_everything_has_a_name_for_a_screen_reader(browser: Browser, page: Path) -> None:
    browser.open(page)
    browser.call("Accessibility.enable")
    nodes = browser.call("Accessibility.getFullAXTree")["nodes"]
    needs_name = {"image", "button", "slider", "link", "checkbox", "combobox", "table", "heading"}
    shown = [n for n in nodes if not n.get("ignored") and n["role"]["value"] in needs_name]
    assert {n["role"]["value"] for n in shown} >= {"image", "button", "slider", "table", "heading"}
    assert [n for n in shown if not n.get("name", {}).get("value")] == []
    assert browser.run("document.querySelectorAll('td').length > 10")
    unnamed = "[...document.querySelectorAll('table')].filter(t => !t.caption).length"
    assert browser.run(unnamed) == 0


def state(browser: Browser) -> dict[str, Any]:
    return browser.run(
        """({
          now: document.querySelector('.now').textContent,
          row: document.querySelector('.events [aria-current] .what')?.textContent,
          clear: [...document.querySelectorAll('.clear')].map(e => e.textContent),
          bars: [...document.querySelectorAll('.plan .bar')]
            .map(e => e.classList.contains('shut')),
          slider: Number(document.querySelector('.time').value),
        })"""
    )


def press(browser: Browser, button: str) -> None:
    browser.run(f"document.querySelector('.replay .{button}').click()")


def test_the_replay_steps_through_the_closing(browser: Browser, page: Path) -> None:
    browser.open(page)
    press(browser, "release")
    at_release = state(browser)
    assert at_release["now"].startswith(
        "6 min 51.0 s after the first pig came (1:07 after the set): 11 of 11 inside"
    )
    assert "gates open" in at_release["now"]
    assert at_release["row"] == "trigger acts"
    press(browser, "next")
    assert state(browser)["row"].startswith("gate moves")
    for _ in range(4):
        press(browser, "next")
    assert "gates shut" not in at_release["now"]
    browser.run(
        "{const s = document.querySelector('.time'); s.value = s.max;"
        "s.dispatchEvent(new Event('input'))}"
    )
    after = state(browser)
    assert "gates shut" in after["now"]
    assert after["clear"] == ["0 in clear", "0 in clear"]
    assert at_release["bars"] == [False, False]
    assert after["bars"] == [True, True]
    press(browser, "back")
    assert state(browser)["slider"] < after["slider"]


def test_the_replay_plays_and_pauses(browser: Browser, page: Path) -> None:
    browser.open(page)
    browser.run(
        "{const s = document.querySelector('.time'); s.value = 0;"
        "s.dispatchEvent(new Event('input'))}"
    )
    press(browser, "play")
    browser.wait("Number(document.querySelector('.time').value) > 5")
    press(browser, "play")
    stopped = state(browser)["slider"]
    browser.frames(10)
    assert state(browser)["slider"] == stopped
    assert browser.complaints() == []


def test_less_motion_means_one_event_at_a_time(browser: Browser, page: Path) -> None:
    browser.open(page, prefers_reduced_motion="reduce")
    press(browser, "release")
    browser.run(
        "window.times = new Set(); window.rows = new Set();"
        "(function look() {"
        "  times.add(document.querySelector('.time').value);"
        "  rows.add(document.querySelector('.events [aria-current]'));"
        "  requestAnimationFrame(look); })()"
    )
    press(browser, "play")
    browser.wait("rows.size >= 3")
    press(browser, "play")
    # at every frame that was painted it stood at an event, and never between two
    assert browser.run("times.size <= rows.size")


def test_motion_is_between_events_for_everybody_else(browser: Browser, page: Path) -> None:
    browser.open(page)
    press(browser, "release")
    browser.run(
        "window.times = new Set();"
        "(function look() {"
        "  times.add(document.querySelector('.time').value); requestAnimationFrame(look); })()"
    )
    press(browser, "play")
    browser.wait("times.size >= 5")
    press(browser, "play")


def test_several_replays_of_a_page_go_their_own_ways(
    browser: Browser,
    arms: dict[str, Outcomes],
    two_gates: Trace,
    open_night: Trace,
    tmp_path: Path,
) -> None:
    result = from_outcomes(next(iter(arms.values())), scenario=loads(SCENARIO, "alder.toml"))
    shown = {"typical": two_gates, "worst": open_night}
    page = write(run_page(result, examples=shown), tmp_path / "two.html")
    browser.open(page)
    clocks = "[...document.querySelectorAll('.replay .now')].map(now => now.textContent)"
    before = browser.run(clocks)
    browser.run("document.querySelectorAll('.replay .next')[1].click()")
    after = browser.run(clocks)
    assert after[0] == before[0]
    assert after[1] != before[1]
    hidden = "[...document.querySelectorAll('.replay .release')].map(b => b.offsetParent === null)"
    assert browser.run(hidden) == [False, True]  # nothing was released on the second night
    assert browser.complaints() == []


ARMS = """
title = "Invented: near or far?"
base = "alder.toml"
nights = 60
[[arm]]
name = "near <script>"
set = {trigger.distance = "12 ft"}
[[arm]]
name = "far, with a name that is long enough to need more than one line on a telephone"
[robust]
worlds = 20
nights = 20
only = ["entry.clock"]
"""


@pytest.fixture(scope="module")
def written(
    tmp_path_factory: pytest.TempPathFactory, leaning: DifferenceTornado, two_gates: Trace
) -> dict[str, Path]:
    """One page of each kind, as the commands lay them out."""
    from soundergate.studies.study import study as run_study
    from soundergate.studies.study_file import loads as loads_study

    folder = tmp_path_factory.mktemp("kinds")
    (folder / "alder.toml").write_text(SCENARIO.replace('"line"', '"line"\ndistance = "22 ft"'))
    study = run_study(loads_study(ARMS, folder / "study.toml"))
    best = study.comparison.arms[1]
    assert best.result.scenario is not None
    nights = {what: trace_night(best.result.scenario, 1, n) for n, what in enumerate(WHAT)}
    pages = {
        "comparison": comparison_page(
            study.comparison, leans=leaning, examples=(best.name, nights)
        ),
        "study": study_page(study, examples=(best.name, nights)),
        "night": night_page(two_gates),
        "season": season_page(season(folder / "alder.toml", campaigns=60)),
    }
    return {name: write(page, folder / f"{name}.html") for name, page in pages.items()}


WHAT = ("typical", "worst", "best")
KINDS = ["comparison", "study", "night", "season"]
REPLAYS = {"night": 1, "season": 0}


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("width", [360, 1200])
def test_every_kind_of_page_is_clean_and_keeps_its_width(
    browser: Browser, written: dict[str, Path], kind: str, width: int
) -> None:
    browser.open(written[kind], width=width)
    assert browser.complaints() == []
    assert browser.requests() == [written[kind].as_uri()]
    assert browser.run("document.documentElement.scrollWidth") <= width
    assert browser.run("document.querySelectorAll('h1').length") == 1
    replays = browser.run("document.querySelectorAll('.replay .controls:not([hidden])').length")
    assert replays == REPLAYS.get(kind, 3)


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_page_prints(browser: Browser, written: dict[str, Path], kind: str) -> None:
    browser.open(written[kind])
    printed = base64.b64decode(browser.call("Page.printToPDF", preferCSSPageSize=True)["data"])
    assert printed.startswith(b"%PDF-")
    browser.call("Emulation.setEmulatedMedia", media="print")
    shown = """[...document.querySelectorAll('.controls, .events')]
        .filter(e => e.getClientRects().length).length"""
    assert browser.run(shown) == 0
    stills = "[...document.querySelectorAll('.plan')].every(e => e.getClientRects().length > 0)"
    assert browser.run(stills)
    overflow = "getComputedStyle(document.querySelector('.scroll')).overflowX"
    assert browser.run(overflow) == "visible", "nothing is cut off on paper"


def key(browser: Browser, name: str, code: int) -> None:
    for kind in ("rawKeyDown", "keyUp"):
        browser.call(
            "Input.dispatchKeyEvent", type=kind, key=name, code=name, windowsVirtualKeyCode=code
        )


def test_the_replay_is_played_by_keyboard_and_shows_where_one_is(
    browser: Browser, written: dict[str, Path]
) -> None:
    """WCAG 2.2 success criteria 2.1.1 (keyboard) and 2.4.7 (focus visible)."""
    browser.open(written["night"])
    reached: dict[str, str] = {}
    for _ in range(60):
        key(browser, "Tab", 9)
        name, outline = browser.run(
            """(() => { const e = document.activeElement, s = getComputedStyle(e);
              return [e.className || e.tagName, s.outlineStyle + ' ' + s.outlineWidth]; })()"""
        )
        reached.setdefault(name.split()[0], outline)
        if name == "time":
            before = state(browser)["slider"]
            key(browser, "ArrowLeft", 37)
            assert state(browser)["slider"] < before
    assert {"scroll", "time", "back", "play", "next", "speed", "slow", "events"} <= set(reached)
    assert set(reached.values()) == {"solid 3px"}
