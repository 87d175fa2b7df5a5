"""Set up, run and check forerun with nothing but Python 3.11 or newer and pip (or uv).

    python3 dev.py run [ARGS]     set up, then the built-in demo and the page (or `forerun ARGS`)
    python3 dev.py test [ARGS]    set up, then all checks and tests (or `pytest ARGS` alone)
    python3 dev.py setup          set up only, tools for development included
    python3 dev.py lint           format, rules, types, imports between rooms
    python3 dev.py proofs         laws, published values, honesty of bands; rewrites their pages
    python3 dev.py bench          the benchmarks
    python3 dev.py docs           rewrite every page that is generated
    python3 dev.py site [FOLDER]  the documents as HTML that opens from disk, with search

Only the standard library is used, since this file runs before anything is installed.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

OLDEST_PYTHON = (3, 11)
OLDEST_PIP = (22, 3)  # the first whose --python installs into another environment

ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
BIN = VENV / ("Scripts" if os.name == "nt" else "bin")
PYTHON = BIN / ("python.exe" if os.name == "nt" else "python")
FORERUN = BIN / ("forerun.exe" if os.name == "nt" else "forerun")
STAMP = VENV / "forerun-setup.json"
RUN_SET = ("run.txt", "build.txt")
DEV_SET = ("run.txt", "build.txt", "dev.txt", "sweep.txt")
PROVED_SHEETS = "1000"  # random sheets on which `proofs` tries the laws of the still
WORKERS = "2"
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")


class SetupError(Exception):
    """Something the user has to put right first; the message is one sentence."""


# --- the environment of every command that is started


def environment() -> dict[str, str]:
    """Return the surroundings of child processes: ours, less what would mislead pip or Python."""
    kept = {k: v for k, v in os.environ.items() if k not in {"PYTHONPATH", "PYTHONHOME"}}
    return {**kept, "PIP_USER": "0", "PIP_DISABLE_PIP_VERSION_CHECK": "1", "PYTHONUTF8": "1"}


def call(command: list[str], quiet: bool = False) -> int:
    """Run a command in the project's folder and return its exit code."""
    hidden = subprocess.DEVNULL if quiet else None
    done = subprocess.run(
        command, cwd=ROOT, env=environment(), stdout=hidden, stderr=hidden, check=False
    )
    return done.returncode


def must(command: list[str]) -> None:
    """Run a command; stop with its exit code when it fails."""
    code = call(command)
    if code != 0:
        raise SystemExit(code)


# --- set-up


def set_up(files: tuple[str, ...]) -> None:
    """Make .venv hold the locked versions and the project, then compile the kernels once."""
    wanted = {name: digest(ROOT / "requirements" / name) for name in files}
    wanted["project"] = digest(ROOT / "pyproject.toml") + str(ROOT)
    have = stamp()
    if any(have.get(key) != value for key, value in wanted.items()):
        start = time.monotonic()
        install(files)
        STAMP.write_text(json.dumps({**have, **wanted}, indent=1), encoding="utf-8")
        say(f"set up in {time.monotonic() - start:.0f} s")
    must([str(PYTHON), "-m", "forerun.app.prepare"])


def digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def stamp() -> dict[str, str]:
    """Return what the last set-up installed; nothing when there is no working .venv."""
    if not PYTHON.exists() or not STAMP.exists():
        return {}
    found = json.loads(STAMP.read_text(encoding="utf-8"))
    return {str(key): str(value) for key, value in found.items()}


def install(files: tuple[str, ...]) -> None:
    """Install with the first of uv and pip that is there and succeeds."""
    lists = [part for name in files for part in ("-r", f"requirements/{name}")]
    found = installers()
    if not found:
        raise SetupError(
            "Neither uv nor pip (22.3 or newer) was found: install one of them "
            "(on Debian: apt install python3-pip) and run this command again."
        )
    for name, command in found:
        say(f"installing into .venv with {name}")
        if (
            make_venv() == 0
            and call([*command, *lists]) == 0
            and call([*command, "--no-deps", "--no-build-isolation", "-e", "."]) == 0
        ):
            return
        say(f"{name} did not succeed")
    raise SetupError("The set-up did not succeed; the lines above say what stopped it.")


def installers() -> list[tuple[str, list[str]]]:
    """Return every usable way to install into .venv, best first: a name and a command."""
    found = []
    uv = shutil.which("uv")
    if uv:
        install = ["pip", "install", "--compile-bytecode", "--python", str(PYTHON)]
        found.append(("uv", [uv, *install]))
    beside = [shutil.which("pip3"), shutil.which("pip")]
    candidates = [[sys.executable, "-m", "pip"], *([path] for path in beside if path)]
    for pip in candidates:
        if pip_version(pip) >= OLDEST_PIP:
            quiet = [] if sys.stdout.isatty() else ["-q"]
            found.append(("pip", [*pip, "--python", str(PYTHON), "install", *quiet]))
            break
    return found


def pip_version(pip: list[str]) -> tuple[int, ...]:
    """Return the version of a pip, or nothing when it is not there."""
    done = subprocess.run(
        [*pip, "--version"], env=environment(), capture_output=True, text=True, check=False
    )
    words = done.stdout.split()
    if done.returncode != 0 or len(words) < len(("pip", "version")):
        return ()
    return tuple(int(part) for part in words[1].split(".")[:2] if part.isdigit())


def make_venv() -> int:
    """Make .venv with this Python unless a working one is there."""
    if PYTHON.exists() and call([str(PYTHON), "-c", _OLD_ENOUGH], quiet=True) == 0:
        return 0
    # without pip, since Debian's Python has no ensurepip; pip works on it from outside
    return call([sys.executable, "-m", "venv", "--without-pip", "--clear", str(VENV)])


_OLD_ENOUGH = f"import sys; sys.exit(sys.version_info < {OLDEST_PYTHON})"


def say(sentence: str) -> None:
    print(f"dev.py: {sentence}", flush=True)


# --- the commands


def run(args: list[str]) -> int:
    set_up(RUN_SET)
    if args:
        return call([str(FORERUN), *args])
    told = call([str(FORERUN), "demo"])
    if told != 0 or not someone_is_there():
        say(f"the page: run `{FORERUN.relative_to(ROOT)} serve`, then open the address it prints")
        return told
    return call([str(FORERUN), "serve"])


def someone_is_there() -> bool:
    """Return whether a person sits before this: a page nobody looks at would only wait for ever."""
    return sys.stdin.isatty() and sys.stdout.isatty() and not os.environ.get("CI")


def setup(_args: list[str]) -> int:
    set_up(DEV_SET)
    return 0


def lint(_args: list[str]) -> int:
    set_up(DEV_SET)
    steps = {
        "format": ["-m", "ruff", "format", "--check", "."],
        "rules": ["-m", "ruff", "check", "."],
        "types": ["-m", "mypy"],
        "imports": ["-c", _LINT_IMPORTS],
    }
    failed = []
    for name, step in steps.items():
        say(f"checking {name}")
        if call([str(PYTHON), *step]) != 0:
            failed.append(name)
    if failed:
        say(f"not clean: {', '.join(failed)}")
    return 1 if failed else 0


def test(args: list[str]) -> int:
    if args:
        set_up(DEV_SET)
        return call([str(PYTHON), "-m", "pytest", *args])
    untidy = lint([])
    find_a_browser()
    return call([str(PYTHON), "-m", "pytest", "-n", WORKERS]) or untidy


def find_a_browser() -> None:
    """Make sure of a browser for the tests of the page, where that is ours to do."""
    if any(shutil.which(name) for name in BROWSERS) or not shutil.which("apt-get"):
        return
    if not hasattr(os, "geteuid") or os.geteuid() != 0:
        return
    say("installing Debian's chromium, which the tests of the page drive")
    quiet = ["apt-get", "-qq", "-o", "Dpkg::Use-Pty=0"]
    wanted = ["chromium", "libatomic1", "fonts-dejavu-core"]
    if call([*quiet, "install", "-y", "--no-install-recommends", *wanted], quiet=True) == 0:
        return
    call([*quiet, "update"], quiet=True)
    if call([*quiet, "install", "-y", "--no-install-recommends", *wanted], quiet=True) != 0:
        say("no chromium to be had: the tests of the page are skipped and say so")


def proofs(_args: list[str]) -> int:
    set_up(DEV_SET)
    os.environ["FORERUN_SHEETS"] = PROVED_SHEETS
    tests = [str(PYTHON), "-m", "pytest", "-n", WORKERS, "tests/laws", "tests/validation"]
    failed = call(tests)
    scripts = sorted((ROOT / "tools" / "proofs").glob("[!_]*.py"))
    packaging = str(ROOT / "tools" / "proofs" / "packaging.py")
    asked = [*([str(script)] for script in scripts), [packaging, "--lowest"]]  # bounds are true
    failed = max(call([str(PYTHON), *words]) for words in asked) or failed
    return docs([]) or failed


def bench(args: list[str]) -> int:
    set_up(DEV_SET)
    scripts = args or [str(path) for path in sorted((ROOT / "benchmarks").glob("[!_]*.py"))]
    return max([call([str(PYTHON), script]) for script in scripts], default=0)


def docs(_args: list[str]) -> int:
    set_up(DEV_SET)
    scripts = sorted((ROOT / "tools" / "docs").glob("[!_]*.py"))
    return max([call([str(PYTHON), str(script)]) for script in scripts], default=0)


def site(args: list[str]) -> int:
    set_up(DEV_SET)
    return call([str(PYTHON), str(ROOT / "tools" / "site" / "build.py"), *args])


_LINT_IMPORTS = "import importlinter.cli as c; c.lint_imports_command(['--no-logo'])"

COMMANDS = {f.__name__: f for f in (setup, run, test, lint, proofs, bench, docs, site)}


def main(arguments: list[str]) -> int:
    if sys.version_info < OLDEST_PYTHON:
        say("Python 3.11 or newer is needed; this is " + sys.version.split()[0] + ".")
        return 2
    name = arguments[0] if arguments else ""
    if name not in COMMANDS:
        print(__doc__)
        return 0 if name in {"", "-h", "--help", "help"} else 2
    try:
        return COMMANDS[name](arguments[1:])
    except SetupError as problem:
        say(str(problem))
        return 1
    except KeyboardInterrupt:
        say("stopped")
        return 130


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
