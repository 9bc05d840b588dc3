"""`manage.py test`: what it installs, what it starts, and that nothing is left out in silence."""

import subprocess
import sys

import pytest

from stationlog import launch, trial

pytestmark = pytest.mark.anywhere  # real processes, on SQLite whatever the tests run on

pytest_plugins = ["pytester"]


@pytest.fixture
def said(monkeypatch, tmp_path):
    """What is said to somebody who runs the tests for the first time."""
    lines = []
    monkeypatch.setattr(trial, "say", lines.append)
    monkeypatch.setattr(trial, "TOOLS_STAMP", tmp_path / "stamp.txt")
    return lines


def test_reference_libraries_are_told_from_the_tools_that_tests_run_with():
    tools, references = trial.tools_and_references(trial.TEST_REQUIREMENTS.read_text())
    assert {pin.partition("==")[0] for pin in tools} >= {"pytest", "pytest-django", "pytest-xdist", "playwright"}
    assert {pin.partition("==")[0] for pin in references} >= {"ephem", "pyproj", "adif-io", "PyADIF-File"}
    assert len(tools) + len(references) == len(launch.pinned(trial.TEST_REQUIREMENTS))


def test_a_reference_library_without_a_wheel_does_not_keep_the_others_away(monkeypatch, said):
    installed = []

    def pip(python, *what):
        if "-r" in what or "pyproj==3.7.2" in what:
            raise launch.Trouble("no wheel")
        installed.extend(part for part in what if not part.startswith("--"))

    monkeypatch.setattr(trial, "pip_install", pip)
    trial.bring_tools()
    assert {"pytest==9.2.0", "ephem==4.2.1"} <= set(installed)
    assert "pyproj==3.7.2" not in installed
    assert any("pyproj==3.7.2 has no wheel for this system" in line for line in said)
    installed.clear()
    trial.bring_tools()
    assert not installed, "tried once, until the file changes"


def test_a_tool_that_cannot_be_installed_stops_the_run(monkeypatch, said):
    def pip(python, *what):
        raise launch.Trouble("the package registry could not be reached")

    monkeypatch.setattr(trial, "pip_install", pip)
    with pytest.raises(launch.Trouble, match="registry"):
        trial.bring_tools()


@pytest.mark.parametrize(("debian", "root", "asked"), [(True, 0, True), (True, 1000, False), (False, 0, False)])
def test_programs_are_installed_on_debian_as_root_and_elsewhere_a_sentence_says_how(
    monkeypatch, said, debian, root, asked
):
    commands = []

    def run(command, **_):
        commands.append(" ".join(map(str, command)))
        return subprocess.CompletedProcess(command, 1)

    monkeypatch.setattr(trial, "has_program", lambda name: False)
    monkeypatch.setattr(trial, "playwright_browser", lambda: False)
    monkeypatch.setattr(trial, "is_debian", lambda: debian)
    monkeypatch.setattr(trial.os, "geteuid", lambda: root, raising=False)
    monkeypatch.setattr(trial.subprocess, "run", run)
    trial.bring_programs()
    assert any("apt-get install" in c and "chromium poppler-utils libnss3-tools" in c for c in commands) == asked
    assert any("playwright install chromium" in c for c in commands)
    assert "install Chromium" in said[-1]


def test_tests_run_on_all_cores_and_further_words_go_to_pytest(monkeypatch):
    started = []
    monkeypatch.setattr(trial, "bring_tools", lambda: None)
    monkeypatch.setattr(trial, "bring_programs", lambda: None)
    monkeypatch.setattr(trial.os, "chdir", lambda path: None)
    monkeypatch.setattr(trial.os, "cpu_count", lambda: 6)
    monkeypatch.setattr(trial, "hand_over", lambda command: started.append(command) or 3)
    assert trial.run(["tests/outings", "-k", "grid", "-x"]) == 3
    assert started == [[sys.executable, "-m", "pytest", "-n", "6", "tests/outings", "-k", "grid", "-x"]]
    trial.run(["--jobs", "1"])
    assert started[-1][-2:] == ["-n", "1"]


# --- the closing list --------------------------------------------------------------------------------------------


@pytest.fixture
def small_project(pytester, monkeypatch):
    """A project with our conftest, whose tests can be written here."""
    pytester.makeconftest((launch.ROOT / "tests" / "conftest.py").read_text())
    pytester.makeini("[pytest]\nDJANGO_SETTINGS_MODULE = tests.settings\naddopts = --import-mode=importlib")
    monkeypatch.setenv("PYTHONPATH", str(launch.ROOT))
    monkeypatch.delenv("CI", raising=False)
    monkeypatch.delenv("DATABASE_URL", raising=False)
    pytester.makepyfile("""
        import pytest
        from tests.trying import file_from, not_tried, reference_library

        def test_that_runs(): pass

        @pytest.mark.parametrize("place", range(3))
        def test_with_a_witness(place): reference_library("no_such_library", "No-Such-Library")

        def test_with_a_file(): file_from("STATIONLOG_NO_SUCH_FILE", "a file from elsewhere")
    """)
    return pytester


def test_what_was_not_tried_is_listed_by_name_at_the_end(small_project):
    ended = small_project.runpytest_subprocess()
    ended.assert_outcomes(passed=1, skipped=4)
    assert ended.ret == 0
    ended.stdout.fnmatch_lines([
        "*Not tried on this system:*", "  No-Such-Library: cannot be imported here*(3 tests)",
        "  a file from elsewhere: set STATIONLOG_NO_SUCH_FILE to its path",
        "  PostgreSQL: this run used SQLite; set DATABASE_URL*",
    ])


def test_in_ci_what_was_not_tried_fails_the_run_unless_no_package_brings_it(small_project, monkeypatch):
    monkeypatch.setenv("CI", "true")
    ended = small_project.runpytest_subprocess("-n", "2")  # as it is run: the list comes from several processes
    assert ended.ret == 1
    ended.stdout.fnmatch_lines(["*Not tried on this system:*", "*nothing of this may be missing*"])
    ended = small_project.runpytest_subprocess("-k", "runs or file")
    assert ended.ret == 0
    ended.stdout.fnmatch_lines(["  a file from elsewhere: set STATIONLOG_NO_SUCH_FILE to its path"])


def test_a_plain_skip_is_listed_too_and_fails_in_ci(small_project, monkeypatch):
    small_project.makepyfile(test_other="import pytest\n\n@pytest.mark.skip(reason='too lazy')\ndef test_x(): pass")
    monkeypatch.setenv("CI", "true")
    ended = small_project.runpytest_subprocess("test_other.py")
    ended.stdout.fnmatch_lines(["  *test_x: too lazy"])
    assert ended.ret == 1
