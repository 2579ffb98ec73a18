"""A VS Code in a clean profile, served to a browser on this machine."""

import json
import os
import shutil
import socket
import subprocess
import time
import urllib.request
from pathlib import Path

from case import tools

# What a person would have clicked away: the welcome page, side bars, update checks. Nothing here speaks of hints or of the notation:
# those settings have to come from the extension.
USER_SETTINGS = {
    "workbench.startupEditor": "none",
    "workbench.tips.enabled": False,
    "workbench.enableExperiments": False,
    "workbench.secondarySideBar.defaultVisibility": "hidden",
    "chat.disableAIFeatures": True,
    "security.workspace.trust.enabled": False,
    "telemetry.telemetryLevel": "off",
    "extensions.autoCheckUpdates": False,
    "extensions.autoUpdate": False,
    "update.mode": "none",
    "window.autoDetectColorScheme": False,
    "files.autoSave": "off",
    "editor.minimap.enabled": False,
}


class Editor:
    """The running server; use it in a `with` statement."""

    def __init__(self, folder: Path, *extensions: Path, settings: dict | None = None, program: Path | None = None):
        self.folder = folder
        self.data, self.extensions = folder / "data", folder / "extensions"
        for leftover in (self.data, self.extensions, folder / "browser"):
            shutil.rmtree(leftover, ignore_errors=True)
        (self.data / "User").mkdir(parents=True)
        (self.data / "User" / "settings.json").write_text(json.dumps({**USER_SETTINGS, **(settings or {})}))
        (self.data / "Machine").mkdir()
        (self.data / "Machine" / "settings.json").write_text(json.dumps({"stagewright.server.path": str(program or tools.program())}))
        self.probe = folder / "probe.json"
        self.probe.unlink(missing_ok=True)
        self.log = open(folder / "editor.log", "w")
        for extension in extensions:
            self._start("--install-extension", extension).wait(timeout=120)
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.url = f"http://127.0.0.1:{self.port}"

    def _start(self, *arguments) -> subprocess.Popen:
        entry = tools.packages() / "node_modules" / "code-server" / "out" / "node" / "entry.js"
        places = ["--config", "/dev/null", "--user-data-dir", self.data, "--extensions-dir", self.extensions]
        environment = {**tools.node_environment(), "STAGE_PROBE": str(self.probe)}
        # Inside of a terminal of such an editor these would make the command speak to that one.
        for name in [name for name in environment if name.startswith("VSCODE_")]:
            del environment[name]
        return subprocess.Popen(
            [str(word) for word in (tools.node(), entry, *places, *arguments)], stdout=self.log, stderr=subprocess.STDOUT, env=environment
        )

    def __enter__(self):
        quiet = ["--disable-telemetry", "--disable-update-check", "--disable-workspace-trust", "--disable-getting-started-override"]
        self.process = self._start("--auth", "none", "--bind-addr", f"127.0.0.1:{self.port}", *quiet)
        for _ in range(300):
            try:
                urllib.request.urlopen(f"{self.url}/healthz", timeout=1).read()
                return self
            except OSError:
                if self.process.poll() is not None:
                    break
                time.sleep(0.1)
        self.__exit__()
        raise SystemExit(f"the editor did not start:\n{(self.folder / 'editor.log').read_text()}")

    def __exit__(self, *_):
        self.process.terminate()
        try:
            self.process.wait(timeout=10)
        except subprocess.TimeoutExpired:
            self.process.kill()
        self.log.close()

    def drive(self, script: Path, **task) -> None:
        """Runs a script of this folder in the editor's page."""
        path = self.folder / f"{script.stem}-task.json"
        common = {
            "packages": str(tools.packages()),
            "browser": tools.browser(),
            "profile": str(self.folder / "browser"),
            "url": self.url,
            "probe": str(self.probe),
        }
        path.write_text(json.dumps({**common, **{name: str(value) for name, value in task.items()}}))
        done = subprocess.run([tools.node(), script, path], env=tools.node_environment(), timeout=300)
        if done.returncode:
            raise SystemExit(f"{script.name} ended with {done.returncode}")
