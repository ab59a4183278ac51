"""Starting: without a display, on a home in use or damaged, and the demonstration; each in a process of its own."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from data.opening import open_door, shipped_shelf
from data.real_disk import RealDisk
from protocols.clock import FakeClock, parse_wall

ROOT = Path(__file__).parents[2]
_CLOSE_AT_ONCE = """
import sys
import screens.app as app
real = app.build
def build(*given):
    shell = real(*given)
    from kivy.app import App
    from kivy.clock import Clock
    def stop(_):
        print("page", shell.page.key, "lanes", len(shell.lanes), "failing", [n for n, _ in shell.failing()])
        print("late", [name for name in ("protocols.plan", "protocols.decide", "screens.demo") if name in sys.modules])
        App.get_running_app().stop()
    Clock.schedule_once(stop, 0)
    return shell
app.build = build
import main
sys.exit(main.main(sys.argv[1:]))
"""

_CLOSE_TROUBLE_AT_ONCE = """
import sys
import screens.app as app
real = app._ready_kivy
def ready():
    cache = real()
    from kivy.clock import Clock
    from screens.trouble.app import TroubleApp
    def started(self):
        print("trouble", type(self._error).__name__, type(self.root).__name__)
        Clock.schedule_once(lambda _: self.stop(), 0)
    TroubleApp.on_start = started
    return cache
app._ready_kivy = ready
import main
sys.exit(main.main(sys.argv[1:]))
"""


def run(tmp_path: Path, *arguments: str, script: str = "", **more: str) -> subprocess.CompletedProcess[str]:
    hidden = ("DISPLAY", "WAYLAND_DISPLAY", "SDL_VIDEODRIVER", "KIVY_HOME")
    environment = {name: value for name, value in os.environ.items() if name not in hidden}
    environment |= {
        "HOME": str(tmp_path), "XDG_CACHE_HOME": str(tmp_path / "cache"), "TMPDIR": str(tmp_path),
        "PYTHONPATH": str(ROOT), "SDL_AUDIODRIVER": "dummy", **more,
    }  # fmt: skip
    command = [sys.executable, "-c", script, *arguments] if script else [sys.executable, "main.py", *arguments]
    return subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, timeout=60, check=False)


def test_without_a_display_one_line_names_rehearse_and_kivy_is_not_imported(tmp_path: Path) -> None:
    script = "import sys, main; code = main.main([]); print('kivy' in sys.modules); sys.exit(code)"
    done = run(tmp_path, script=script)
    assert done.returncode == 2
    assert done.stdout == "False\n"
    assert len(done.stderr.splitlines()) == 1
    assert "rehearse" in done.stderr
    assert not (tmp_path / ".local").exists()


def test_a_home_in_use_is_said_in_one_line_and_on_the_screen(tmp_path: Path) -> None:
    home = tmp_path / "home"
    home.mkdir()
    disk = RealDisk(home)
    disk.lock("lock", "another")
    done = run(tmp_path, "--home", str(home), script=_CLOSE_TROUBLE_AT_ONCE, SDL_VIDEODRIVER="offscreen")
    disk.close()
    assert (done.returncode, done.stdout) == (1, "trouble HomeBusy BoxLayout\n"), done.stderr
    assert len(done.stderr.splitlines()) == 1
    assert "in use by" in done.stderr


def test_a_damaged_record_is_said_in_one_line_shown_and_left_as_it_is(tmp_path: Path) -> None:
    home = tmp_path / "home"
    home.mkdir()
    disk = RealDisk(home)
    disk.lock("lock", "test")
    open_door(disk, FakeClock(parse_wall("2026-11-25T10:42:00+01:00")), shipped_shelf(), device="test")
    disk.close()
    segment = home / "journal" / "2026-W48.jsonl"
    damaged = segment.read_bytes().replace(b'"boot"', b'"boat"', 1)
    segment.write_bytes(damaged)
    before = files_of(home)
    done = run(tmp_path, "--home", str(home), script=_CLOSE_TROUBLE_AT_ONCE, SDL_VIDEODRIVER="offscreen")
    assert (done.returncode, done.stdout) == (1, "trouble RecordDamaged Shell\n"), done.stderr
    assert len(done.stderr.splitlines()) == 1
    assert "2026-W48.jsonl" in done.stderr
    assert files_of(home) == before


def files_of(home: Path) -> dict[str, bytes]:
    """Every file of a home but the lock, which names the process that looks."""
    return {
        path.relative_to(home).as_posix(): path.read_bytes()
        for path in sorted(home.rglob("*"))
        if path.is_file() and path.name != "lock"
    }


def test_the_demonstration_opens_under_way_and_leaves_nothing(tmp_path: Path) -> None:
    done = run(tmp_path, "--demo", script=_CLOSE_AT_ONCE, SDL_VIDEODRIVER="offscreen")
    assert done.returncode == 0, done.stderr
    assert "lanes 7" in done.stdout
    assert "chime" not in done.stdout  # the dummy sound device plays
    assert not list(tmp_path.glob("basinbell-demo-*"))


def test_the_app_opens_on_a_new_home_and_again(tmp_path: Path) -> None:
    home = tmp_path / "home"
    for _ in range(2):
        done = run(tmp_path, "--home", str(home), script=_CLOSE_AT_ONCE, SDL_VIDEODRIVER="offscreen")
        assert done.returncode == 0, done.stderr
        assert "lanes 0" in done.stdout
        assert "late []" in done.stdout  # what no first page needs is loaded after it
    assert list((home / "journal").glob("*.jsonl"))


def test_demo_and_home_do_not_go_together(tmp_path: Path) -> None:
    done = run(tmp_path, "--demo", "--home", str(tmp_path), SDL_VIDEODRIVER="offscreen")
    assert done.returncode == 2
    assert "--demo" in done.stderr
