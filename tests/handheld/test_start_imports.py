"""The start loads what showing the Bench needs, and nothing that only a computer or a later page needs."""

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
# Each with who needs it: none of them may be among what the app adds to a bare window of Kivy.
HEAVY = {
    "sqlite3": "the look-back's index",
    "cryptography": "signing an export",
    "fpdf": "the page for the audit folder, an extra",
    "psycopg": "gathering, an extra",
    "http": "WebDAV",
    "email": "HTTP headers",
    "multiprocessing": "nothing on a handheld",
    "concurrent.futures.process": "nothing on a handheld",
    "xml": "WebDAV's answers",
    "plyer": "vibration, on Android only",
    "jnius": "Android only",
    "unittest": "tests",
    "pydoc": "tests",
    "numpy": "tests",
    "data.audit": "verify",
    "data.destinations.webdav": "a server to send to",
    "data.exporters.week_forms": "a week that leaves",
    "data.exporters.fhir_week": "a week that leaves",
    "data.replay": "replay",
    "data.trace": "the look-back",
    "data.trace_index": "the look-back",
    "data.unit_gather": "gathering",
    "screens.pictures": "rehearse --pictures",
    "screens.watch": "the Watch",
    "screens.ledger": "the Ledger",
}
SHOWN = """
import sys
import screens.app as app
from kivy.core.window import Window
from kivy.core.audio import SoundLoader
from kivy.app import App
from kivy.clock import Clock
bare = set(sys.modules)
real = app.build
def build(*given):
    shell = real(*given)
    def stop(_):
        print("page", shell.page.key)
        print("\\n".join(sorted(set(sys.modules) - bare)))
        App.get_running_app().stop()
    Clock.schedule_once(stop, 0)
    return shell
app.build = build
import main
sys.exit(main.main(sys.argv[1:]))
"""


def modules_loaded(tmp_path, script, *arguments):
    environment = {name: value for name, value in os.environ.items() if name not in ("DISPLAY", "WAYLAND_DISPLAY")}
    environment |= {
        "KIVY_HOME": str(tmp_path / "kivy"), "XDG_CACHE_HOME": str(tmp_path / "cache"), "PYTHONPATH": str(ROOT),
        "SDL_VIDEODRIVER": "offscreen", "SDL_AUDIODRIVER": "dummy", "KIVY_NO_ARGS": "1", "KIVY_LOG_MODE": "PYTHON",
    }  # fmt: skip
    (tmp_path / "kivy").mkdir(exist_ok=True)
    done = subprocess.run(
        [sys.executable, "-c", script, *arguments], cwd=ROOT, env=environment, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()


def test_showing_the_bench_loads_nothing_heavy(tmp_path):
    first, *loaded = modules_loaded(tmp_path, SHOWN, "--home", str(tmp_path / "home"))
    assert first == "page bench"
    assert "screens.bench.bench" in loaded
    found = {name: why for name, why in HEAVY.items() if any(x == name or x.startswith(name + ".") for x in loaded)}
    assert not found


def test_the_engine_loads_no_screen_no_file_format_and_no_network(tmp_path):
    script = "import sys, data.opening, data.system_clock; print('\\n'.join(sorted(sys.modules)))"
    loaded = modules_loaded(tmp_path, script)
    assert "protocols.fold" in loaded
    unwanted = {*HEAVY, "kivy", "screens", "tinydb", "ssl", "socket", "asyncio", "subprocess", "csv"}
    assert not [name for name in loaded if name.split(".")[0] in unwanted or name in unwanted]


def test_the_first_page_does_not_wait_for_the_planner_to_load(tmp_path):
    # The planner's own thread loads it, beside the page.
    script = "import sys, screens.frame, screens.planning, screens.bench.bench; print('\\n'.join(sorted(sys.modules)))"
    loaded = modules_loaded(tmp_path, script)
    assert "screens.planning" in loaded and "protocols.plan.search" not in loaded
