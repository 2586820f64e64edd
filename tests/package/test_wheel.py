"""What `pip install` gives: everything the command needs is in the wheel, the demo included."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import sysconfig
import zipfile
from email.parser import Parser
from pathlib import Path

import pytest

REPO = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("wheel")
    pip = [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--wheel-dir", str(out), str(REPO)]
    subprocess.run(pip, check=True, timeout=300)
    (found,) = out.glob("*.whl")
    return found


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Commands of a new environment; libraries come from this one, Sealwright from the wheel."""
    folder = tmp_path_factory.mktemp("venv") / "venv"
    subprocess.run([sys.executable, "-m", "venv", str(folder)], check=True, timeout=300)
    commands = folder / ("Scripts" if os.name == "nt" else "bin")
    python = commands / ("python.exe" if os.name == "nt" else "python")
    where = subprocess.run(
        [str(python), "-c", "import sysconfig; print(sysconfig.get_path('purelib'))"],
        capture_output=True, text=True, check=True, timeout=60,
    ).stdout.strip()  # fmt: skip
    # A folder named in a .pth file is searched, but its own .pth files (an editable Sealwright) are not read.
    (Path(where) / "libraries.pth").write_text(sysconfig.get_path("purelib") + "\n")
    pip = [str(python), "-m", "pip", "install", "--quiet", "--no-deps", str(wheel)]
    subprocess.run(pip, check=True, timeout=300)
    return commands


def run(installed: Path, folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    environment = {k: v for k, v in os.environ.items() if k not in ("PYTHONPATH", "VIRTUAL_ENV")}
    command = [str(installed / words[0]), *words[1:]]
    return subprocess.run(
        command, cwd=folder, env=environment, capture_output=True, text=True, timeout=550, check=False
    )


def test_wheel_holds_tables_demo_and_true_metadata(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as package:
        names = package.namelist()
        (name,) = [n for n in names if n.endswith("METADATA")]
        said = Parser().parsestr(package.read(name).decode())
    assert "sealwright/tables/materials.json" in names and "sealwright/demo_scenes/wearers.py" in names
    assert not [n for n in names if n.startswith(("tests/", "tools/", "demo_scenes/", "blender_addon/"))]
    assert "Programming Language :: Python :: 3.11" in said.get_all("Classifier")
    assert said["License-Expression"] == "GPL-3.0-or-later"
    assert not said.get_all("Project-URL")  # there is none that is real


def test_installed_command_makes_the_demo(installed: Path, tmp_path: Path) -> None:
    done = run(installed, tmp_path, "sealwright", "demo", "--out", "made", "--no-pictures")
    assert done.returncode == 0, done.stderr
    told = json.loads((tmp_path / "made" / "made.json").read_text())
    assert told["identity"]["wearer"] == "Marlo" and told["state"] == "whole"
    assert {"body.stl", "scan-marlo.ply", "landmarks-marlo.json"} <= set(told["files"])
    assert not list((tmp_path / "made").glob(".*")) and sorted(p.name for p in tmp_path.iterdir()) == ["made"]


def test_module_is_the_command(installed: Path, tmp_path: Path) -> None:
    first = run(installed, tmp_path, "sealwright", "--version")
    second = run(installed, tmp_path, "python", "-m", "sealwright", "--version")
    assert first.returncode == second.returncode == 0 and first.stdout == second.stdout
    assert first.stdout.startswith("sealwright ")


@pytest.mark.skipif(os.name == "nt", reason="bash")
def test_bash_completes_commands_options_and_choices(installed: Path, tmp_path: Path) -> None:
    script = run(installed, tmp_path, "sealwright", "completion", "bash").stdout
    (tmp_path / "complete.sh").write_text(script)

    def completed(*words: str) -> set[str]:
        line = " ".join(f"'{word}'" for word in words)
        code = f". ./complete.sh; COMP_WORDS=({line}); COMP_CWORD={len(words) - 1}; _sealwright; "
        code += 'printf "%s\\n" "${COMPREPLY[@]}"'
        done = subprocess.run(["bash", "-c", code], cwd=tmp_path, capture_output=True, text=True, check=True)
        return set(done.stdout.split())

    assert completed("sealwright", "ma") == {"make"}
    assert completed("sealwright", "make", "--wea") == {"--wearer"}
    assert completed("sealwright", "make", "x.ply", "--unit", "") == {"mm", "cm", "m", "in"}
    assert completed("sealwright", "schema", "re") == {"recipe", "report"}
    for shell in ("zsh", "fish"):
        assert (
            "--labels-from-names".strip("-")
            in run(installed, tmp_path, "sealwright", "completion", shell).stdout
        )
