"""buildozer.spec says of the app what pyproject says, in versions that python-for-android builds; read by buildozer."""

import importlib
import re
import subprocess
import tomllib
from pathlib import Path

import jinja2
import pytest

ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
# python-for-android pins its own; the series is pyproject's. Its reason stands beside the pin in the spec.
RECIPE_DECIDES = {"cryptography"}


@pytest.fixture
def quiet_logger(monkeypatch):
    from buildozer.logger import Logger

    monkeypatch.setattr(Logger, "log_level", 0, raising=False)


def spec(monkeypatch, profile=None):
    """The spec as buildozer itself reads it, with a profile if one is named."""
    from buildozer.specparser import SpecParser

    for name in ("APP_VERSION", "APP_TITLE"):  # buildozer lets the environment win
        monkeypatch.delenv(name, raising=False)
    parser = SpecParser()
    parser.read(ROOT / "buildozer.spec", "utf-8")
    parser.apply_profile(profile)
    return parser


def pins(lines):
    return dict(re.match(r"([A-Za-z0-9._-]+)==(\S+)$", line.split("#")[0].strip()).groups() for line in lines)


def recipe_version(name):
    return importlib.import_module(f"pythonforandroid.recipes.{name}").recipe.version


def test_name_version_and_dependencies_are_those_of_pyproject(monkeypatch):
    found = spec(monkeypatch)
    assert found.get("app", "title").lower() == PROJECT["project"]["name"]
    assert found.get("app", "version") == PROJECT["project"]["version"]
    spec_pins = pins(found.getlist("app", "requirements"))
    project_pins = pins(PROJECT["project"]["dependencies"])
    assert set(spec_pins) == set(project_pins) | {"python3", "hostpython3", "pyjnius"}
    for name, version in project_pins.items():
        if name in RECIPE_DECIDES:
            assert spec_pins[name].rsplit(".", 1)[0] == version.rsplit(".", 1)[0]
        else:
            assert spec_pins[name] == version
    # Python within what pyproject allows, and both of one version, or the recipe builds its own default.
    minor = int(spec_pins["python3"].split(".")[1])
    low, high = re.fullmatch(r">=3\.(\d+),<3\.(\d+)", PROJECT["project"]["requires-python"]).groups()
    assert int(low) <= minor < int(high)
    assert spec_pins["python3"] == spec_pins["hostpython3"]


def test_what_is_compiled_has_a_recipe_of_that_version_and_the_rest_is_pure_python(monkeypatch):
    from importlib.metadata import distribution

    from pythonforandroid import recommendations

    found = spec(monkeypatch)
    wanted = pins(found.getlist("app", "requirements"))
    for name in ("kivy", "pyjnius", "cryptography"):
        assert wanted.pop(name) == recipe_version(name)
    for name in ("python3", "hostpython3"):
        assert wanted.pop(name) and recipe_version(name)
    # Without a recipe, python-for-android takes only a wheel that runs on any machine.
    for name in wanted:
        assert distribution(name).metadata["Name"]
        wheel = distribution(name).read_text("WHEEL")
        assert re.findall(r"^Tag: (\S+)$", wheel, re.M), name
        assert all(tag.endswith("-none-any") for tag in re.findall(r"^Tag: (\S+)$", wheel, re.M)), name
    assert found.getint("app", "android.api") >= recommendations.MIN_TARGET_API
    assert found.getint("app", "android.api") == recommendations.RECOMMENDED_TARGET_API
    assert found.get("app", "android.ndk") == recommendations.RECOMMENDED_NDK_VERSION
    assert found.getint("app", "android.minapi") == found.getint("app", "android.ndk_api")


def test_every_pin_and_permission_has_its_reason_beside_it():
    text = (ROOT / "buildozer.spec").read_text(encoding="utf-8")
    comments = " ".join(line[1:] for line in text.splitlines() if line.startswith("#"))
    values = dict(line.split(" = ", 1) for line in text.splitlines() if " = " in line and not line.startswith("#"))
    for name in [*pins(values["requirements"].split(",")), *values["android.permissions"].split(",")]:
        assert re.search(rf"\b{name}\b", comments), name


def test_the_offline_profile_has_no_network_and_the_networked_one_adds_only_that(monkeypatch, quiet_logger):
    asked = {p: set(spec(monkeypatch, p).getlist("app", "android.permissions")) for p in (None, "offline", "networked")}
    assert "INTERNET" not in asked["offline"] and "ACCESS_NETWORK_STATE" not in asked["offline"]
    assert asked[None] == asked["offline"]  # whoever forgets the profile gets no network
    assert asked["networked"] - asked["offline"] == {"INTERNET"}
    assert asked["offline"] - asked["networked"] == set()


def shipped(monkeypatch, tmp_path):
    """The files that buildozer itself copies into the app."""
    from buildozer import Buildozer

    found = spec(monkeypatch)
    found.set("app", "source.dir", str(ROOT))
    builder = Buildozer.__new__(Buildozer)
    builder.config = found
    builder.logger = type("Silent", (), {"debug": lambda *_: None, "info": lambda *_: None})()
    monkeypatch.setattr(Buildozer, "app_dir", property(lambda _: str(tmp_path / "app")))
    builder._copy_application_sources()
    copied = tmp_path / "app"
    return {path.relative_to(copied).as_posix() for path in copied.rglob("*") if path.is_file()}


def test_what_the_app_needs_is_shipped_and_nothing_of_the_tests(monkeypatch, tmp_path, quiet_logger):
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True)
    if listed.returncode:
        pytest.skip("not a checkout of git")
    known = {line for line in listed.stdout.splitlines() if (ROOT / line).is_file()}
    copied = {
        path
        for path in shipped(
            monkeypatch,
            tmp_path,
        )
        if "__pycache__" not in path
    }
    floors = {path for path in known if path.split("/")[0] in ("protocols", "data", "screens")} | {"main.py"}
    left = ("data/unit_gather/", "screens/senses/handheld/")
    # Languages are read compiled; a .po is what the .mo is made from.
    assert {path for path in floors if not path.startswith(left) and not path.endswith(".po")} - copied == set()
    assert {path for path in copied & known if path not in floors} == set()
    # pyproject's own list of what is no Python: each is shipped, or is SQL for a computer.
    for package, patterns in PROJECT["tool"]["setuptools"]["package-data"].items():
        for pattern in patterns:
            for path in (ROOT / package).glob(pattern):
                relative = path.relative_to(ROOT).as_posix()
                assert relative in copied or relative.startswith(left), relative


def test_nothing_that_is_left_out_is_imported_by_the_app():
    # The command line alone may: nobody types commands on a handheld.
    for path in [p for floor in ("data", "screens") for p in (ROOT / floor).rglob("*.py")]:
        where = path.relative_to(ROOT).as_posix()
        if not where.startswith(("data/unit_gather/", "screens/terminal/")):
            assert "data.unit_gather" not in path.read_text(encoding="utf-8"), where


def manifest(tmp_path, permissions):
    """The manifest that python-for-android writes for these permissions, then changed by our hook, twice."""
    templates = (
        Path(importlib.import_module("pythonforandroid").__file__).parent / "bootstraps/_sdl_common/build/templates"
    )
    template = jinja2.Environment(loader=jinja2.FileSystemLoader(templates)).get_template("AndroidManifest.tmpl.xml")
    given = {
        "permissions": [{"name": f"android.permission.{x}"} for x in permissions],
        "min_sdk_version": 26,
        "allow_backup": "false",
    }
    target = tmp_path / "src/main/AndroidManifest.xml"
    target.parent.mkdir(parents=True)
    target.write_text(template.render(args=given, android_api=33), encoding="utf-8")
    return target


@pytest.mark.parametrize("profile", ["offline", "networked"])
def test_the_manifest_has_the_permissions_and_one_receiver(monkeypatch, tmp_path, quiet_logger, profile):
    from xml.etree import ElementTree

    found = spec(monkeypatch, profile)
    asked = found.getlist("app", "android.permissions")
    target = manifest(tmp_path, asked)
    hook = importlib.util.spec_from_file_location("hook", ROOT / found.get("app", "p4a.hook"))
    module = importlib.util.module_from_spec(hook)
    hook.loader.exec_module(module)
    monkeypatch.chdir(tmp_path)
    module.before_apk_assemble(None)
    module.before_apk_assemble(None)  # buildozer builds twice
    name = "{http://schemas.android.com/apk/res/android}name"
    tree = ElementTree.parse(target).getroot()
    assert {x.get(name).removeprefix("android.permission.") for x in tree.iter("uses-permission")} == set(asked)
    receivers = list(tree.iter("receiver"))
    assert [x.get(name) for x in receivers] == ["org.basinbell.Caller"]
    assert (ROOT / found.get("app", "android.add_src") / "org/basinbell/Caller.java").is_file()
    assert {x.get(name) for x in receivers[0].iter("action")} == {
        "android.intent.action.BOOT_COMPLETED",
        "android.intent.action.MY_PACKAGE_REPLACED",
    }
    target.write_text("<manifest/>", encoding="utf-8")
    with pytest.raises(ValueError, match="0 times"):
        module.before_apk_assemble(None)


def test_the_record_is_kept_out_of_the_makers_backup(monkeypatch):
    assert spec(monkeypatch).getboolean("app", "android.allow_backup") is False
