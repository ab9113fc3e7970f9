"""How quick the served workbench is: ``python -m benchmarks.web [--users 20 --seconds 60]``. Loopback only, bounded.

It prints: a drop to its answer against the same ``balance`` call; the first plot of a long recording (bytes sent, server's
time, and in a browser where there is one); the start page with many engines and entries; scripts and styles; many users.
"""

import argparse
import gzip
import io
import json
import math
import random
import shutil
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np

from leanwright.web.files import fixed_files
from leanwright.web.run import Served, prepare
from leanwright.workbench import records
from leanwright.workbench.invent import simulate_into

MARK = "0123456789abcdef"


@contextmanager
def running(folder: Path) -> Iterator[Served]:
    """A server of its own, on the loopback address."""
    served = prepare(0, str(folder / "book.sqlite"), folder / "desk", memory=folder / "layouts.json")
    thread = threading.Thread(target=served.run, daemon=True)
    thread.start()
    while not served.server.started:
        time.sleep(0.01)
    yield served
    served.server.should_exit = True
    thread.join(20)


class Browser:
    """A client that opened the one-time address."""

    def __init__(self, served: Served) -> None:
        path = served.new_address().rsplit("/", 1)[1]
        secret = served.house.keys.open_link(path)
        session = served.house.keys.session(secret or "")
        if secret is None or session is None:
            raise RuntimeError("the one-time address was not opened")
        self.token = session.form_token
        self.base = f"http://127.0.0.1:{served.house.place.port}"
        self.headers = {"Cookie": f"{served.house.place.cookie}={secret}", "Sec-Fetch-Site": "same-origin"}

    def ask(self, path: str, body: bytes | None = None, **headers: str) -> bytes:
        """The body of an answer; with a body of its own the request is a POST."""
        request = urllib.request.Request(self.base + path, body, {**self.headers, **headers})  # noqa: S310  our own server
        with urllib.request.urlopen(request, timeout=60) as answer:  # noqa: S310  the same
            return bytes(answer.read())

    def drop(self, name: str, content: bytes) -> str:
        """Drop a recording; returns where its answer is."""
        head = (
            f'--{MARK}\r\nContent-Disposition: form-data; name="token"\r\n\r\n{self.token}\r\n'
            f'--{MARK}\r\nContent-Disposition: form-data; name="files"; filename="{name}"\r\n\r\n'
        )
        body = head.encode() + content + f"\r\n--{MARK}--\r\n".encode()
        kind = f"multipart/form-data; boundary={MARK}"
        answer = self.ask("/recordings", body, **{"Content-Type": kind, "Accept": "application/json"})
        return str(json.loads(answer)["go"])


def long_recording(folder: Path, hours: float, per_second: float, columns: int) -> bytes:
    """A simulated flight, resampled to a length, a rate and a number of columns."""
    place = next(
        one
        for one in simulate_into(folder, seed=11, cylinders=6, faults=(), sweeps=4)
        if one.suffix != ".json"
    )
    raw = place.read_bytes()
    text = gzip.decompress(raw).decode() if raw[:2] == b"\x1f\x8b" else raw.decode()
    from leanwright.recordings.read import read_recordings

    (recording,) = read_recordings(io.BytesIO(text.encode()), name=place.name)
    rows = int(hours * 3600 * per_second)
    time_s = np.arange(rows) / per_second
    source = np.interp(
        time_s, np.linspace(0.0, time_s[-1], recording.rows_kept), np.arange(recording.rows_kept)
    )
    if per_second == 1.0:
        source = np.minimum(np.arange(rows), recording.rows_kept - 1)
    wanted = [("egt", "EGT{} (F)", 1), ("cht", "CHT{} (F)", 0)]
    names, values = ["Time (s)"], [time_s]
    for quantity, heading, decimals in wanted:
        for cylinder in range(1, 7):
            found = recording.values(quantity, cylinder)
            if found is not None:
                names.append(heading.format(cylinder))
                values.append(np.round(np.interp(source, np.arange(found.size), found), decimals))
    for quantity, heading, decimals in (
        ("fuel_flow", "FF (gal/h)", 1), ("engine_speed", "RPM (rpm)", 0), ("manifold_pressure", "MAP (inHg)", 1),
    ):  # fmt: skip
        found = recording.values(quantity)
        if found is not None:
            names.append(heading)
            values.append(np.round(np.interp(source, np.arange(found.size), found), decimals))
    while len(names) < columns:
        names.append(f"Aux {len(names)} (V)")
        values.append(np.round(12.0 + 0.1 * np.sin(time_s / (60.0 + len(names))), 2))
    table = np.column_stack(values)
    lines = [",".join(names), *(",".join(f"{value:g}" for value in row) for row in table)]
    return ("\n".join(lines) + "\n").encode()


def dropped(folder: Path) -> None:
    content = long_recording(folder / "three", 3.0, 1.0, 40)
    place = folder / "three-hours.csv"
    place.write_bytes(content)
    command = [sys.executable, "-m", "leanwright", "balance", str(place)]
    times = []
    for _ in range(3):
        began = time.perf_counter()
        subprocess.run(command, check=False, capture_output=True)
        times.append(time.perf_counter() - began)
    with running(folder / "a") as served:
        browser = Browser(served)
        time.sleep(2.0)
        drops = []
        for number in range(3):
            began = time.perf_counter()
            browser.ask(browser.drop(f"flight-{number}.csv", content + b"\n" * number))
            drops.append(time.perf_counter() - began)
            time.sleep(2.0)
    ratio = min(drops) / min(times)
    print(
        f"drop of 3 h, 1 Hz, 40 columns ({len(content) / 1e6:.1f} MB) to its answer: {min(drops):.2f} s; balance: {min(times):.2f} s; {ratio:.2f} times (2 wanted)"
    )


def plotted(folder: Path) -> None:
    content = long_recording(folder / "four", 4.0, 5.0, 31)
    with running(folder / "b") as served:
        browser = Browser(served)
        where = browser.drop("four-hours.csv", content)
        name = where.partition("r=")[2]
        browser.ask(f"/recordings/{name}")
        times, sizes = [], []
        for _ in range(10):
            began = time.perf_counter()
            sizes.append(len(browser.ask(f"/recordings/{name}/trace")))
            times.append(time.perf_counter() - began)
        print(
            f"plot of 4 h, 5 Hz, 30 channels ({len(content) / 1e6:.0f} MB): {max(sizes) / 1024:.0f} KB sent (400 wanted), {1e3 * statistics.median(times):.0f} ms from the server"
        )
        in_browser(served, name)


def in_browser(served: Served, name: str) -> None:
    """The first plot and a zoom in a real browser, where there is one."""
    chromium = shutil.which("chromium") or shutil.which("google-chrome")
    if chromium is None:
        print("no Chromium here: the plot was not timed in a browser")
        return
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        one = driver.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-gpu"])
        page = one.new_page(viewport={"width": 1360, "height": 900})
        page.goto(served.new_address())
        base = page.url.rstrip("/")
        first, zooms = [], []
        for _ in range(5):
            page.goto(f"{base}/recordings/{name}")
            page.locator("[data-plot][data-ready=yes]").wait_for()
            first.append(
                page.evaluate(
                    "performance.getEntriesByName('plotted')[0].startTime - performance.getEntriesByType('resource').filter(r => r.name.includes('/trace'))[0].startTime"
                )
            )
            page.locator("[data-plot-rows]").focus()
            zooms.append(
                page.evaluate(
                    """() => new Promise(done => {
                      const began = performance.now();
                      document.querySelector('[data-zoom=in]').click();
                      requestAnimationFrame(() => requestAnimationFrame(() => done(performance.now() - began)));
                    })"""
                )
            )
        one.close()
    print(
        f"in Chromium, asked for until drawn: {statistics.median(first):.0f} ms (150 wanted); a zoom until two frames later: {statistics.median(zooms):.0f} ms (33 wanted)"
    )


def invented_answer(number: int) -> dict[str, Any]:
    """The body of an entry that keeps an answer of one engine; each engine's cylinders differ otherwise."""
    draw = random.Random(number)  # noqa: S311  invented values, no secret
    offsets = [draw.gauss(0.0, 1.5) for _ in range(6)]
    middle = statistics.fmean(offsets)
    return {
        "engine": f"E{number}",
        "name": "flight.csv",
        "sha256": f"{number:064x}",
        "program": "leanwright",
        "verdict": "uneven",
        "spread_gph": "0.52",
        "u_spread_gph": "0.02",
        "goal_gph": "0.5",
        "cylinders": [
            {
                "cylinder": cylinder,
                "status": "peaked",
                "fuel_flow_at_peak_gph": f"{12.0 * math.exp((offset - middle) / 100.0):.4f}",
                "offset_percent": f"{offset - middle:.4f}",
                "u_offset_percent": "0.1",
            }
            for cylinder, offset in enumerate(offsets, 1)
        ],
    }


def home(folder: Path) -> None:
    with running(folder / "c") as served:
        served.house.book.make()
        with served.house.book.using() as book:
            for number in range(50):
                records.add(book, "engine", {"id": f"E{number}", "cylinders": 6})
            for number in range(50):
                records.add(book, "recording", invented_answer(number))
            for number in range(9900):
                records.add(book, "note", {"text": f"Invented remark {number}.", "engine": f"E{number % 50}"})
        browser = Browser(served)
        browser.ask("/")
        times = []
        for _ in range(40):
            began = time.perf_counter()
            browser.ask("/")
            times.append(time.perf_counter() - began)
    print(
        f"start page, 50 engines each with its ladder, 10,000 entries: p95 {1e3 * np.percentile(times, 95):.0f} ms (50 wanted), median {1e3 * statistics.median(times):.0f} ms"
    )


def files() -> None:
    whole = sum(
        len(gzip.compress(one, 9)) for name, one in fixed_files().items() if name.endswith((".js", ".css"))
    )
    print(f"scripts and styles: {whole / 1024:.0f} KB gzipped (150 wanted)")


def many(folder: Path, users: int, seconds: float) -> None:
    """Users who look at pages one after the other, with a pause of about a second as people make."""
    content = long_recording(folder / "small", 1.0, 1.0, 30)
    with running(folder / "d") as served:
        name = Browser(served).drop("flight.csv", content).partition("r=")[2]
        paths = [
            "/",
            "/recordings",
            f"/balance?r={name}",
            f"/recordings/{name}",
            f"/explain?r={name}",
            f"/choose?r={name}",
            "/card",
        ]
        times: list[float] = []
        errors: list[str] = []
        until = time.monotonic() + seconds

        def look(seed: int) -> None:
            browser, draw = Browser(served), random.Random(seed)  # noqa: S311  whom to ask next, no secret
            while time.monotonic() < until:
                began = time.perf_counter()
                try:
                    browser.ask(draw.choice(paths))
                except OSError as error:
                    errors.append(str(error))
                times.append(time.perf_counter() - began)
                time.sleep(draw.uniform(0.5, 1.5))

        everybody = [threading.Thread(target=look, args=(seed,)) for seed in range(users)]
        for one in everybody:
            one.start()
        for one in everybody:
            one.join()
    print(
        f"{users} users for {seconds:.0f} s: {len(times)} pages, {len(errors)} errors, p95 {1e3 * np.percentile(times, 95):.0f} ms (500 wanted), median {1e3 * statistics.median(times):.0f} ms"
    )


def main() -> None:
    """Run what is asked for; everything, if nothing is named."""
    parser = argparse.ArgumentParser()
    parser.add_argument("what", nargs="*", choices=["drop", "plot", "home", "files", "users", []])
    parser.add_argument("--users", type=int, default=20)
    parser.add_argument("--seconds", type=float, default=60.0)
    asked = parser.parse_args()
    wanted = asked.what or ["drop", "plot", "home", "files", "users"]
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        for name in "abcd":
            (folder / name).mkdir()
        if "files" in wanted:
            files()
        if "drop" in wanted:
            dropped(folder)
        if "plot" in wanted:
            plotted(folder)
        if "home" in wanted:
            home(folder)
        if "users" in wanted:
            many(folder, asked.users, asked.seconds)


if __name__ == "__main__":
    main()
