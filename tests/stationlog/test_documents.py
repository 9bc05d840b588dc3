"""README.md and DEVELOPERS.md say what is true of the tree."""

import re
from argparse import ArgumentParser

import pytest
from django.core.management import get_commands, load_command_class
from django.core.management.base import BaseCommand
from django.core.management.commands import migrate

from stationlog.launch import ROOT

README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
OURS = {"stationlog", "equipment", "outings"}
OF_DJANGO = {
    option for command in (BaseCommand(), migrate.Command())
    for action in command.create_parser("x", "x")._actions for option in action.option_strings
}


def our_commands():
    return sorted(name for name, app in get_commands().items() if app in OURS)


def options_of(command):
    parser = load_command_class(get_commands()[command], command).create_parser("manage.py", command)
    assert isinstance(parser, ArgumentParser)
    return {option for action in parser._actions for option in action.option_strings} - OF_DJANGO


@pytest.mark.parametrize("command", [*our_commands(), "test"])
def test_every_command_and_each_of_its_options_is_in_the_readme(command):
    assert re.search(rf"^\| `{command}", README, re.MULTILINE), f"{command} is not in the table of commands"
    if command != "test":
        missing = [option for option in options_of(command) if not re.search(rf"{option}\b", README)]
        assert not missing


def test_every_setting_is_documented_and_every_documented_one_is_read():
    read = set()
    for path in [*ROOT.glob("*/**/*.py"), ROOT / ".ci" / "run"]:
        if path.parts[len(ROOT.parts)] in {*OURS, "tests", ".ci"}:
            text = path.read_text(encoding="utf-8")
            read |= set(re.findall(r"\b(STATIONLOG_[A-Z_]+[A-Z]|DATABASE_URL)\b", text))
    read -= {"STATIONLOG_NO_SUCH_FILE"}
    documented = set(re.findall(r"\b(STATIONLOG_[A-Z_]+[A-Z]|DATABASE_URL)\b", README + DEVELOPERS))
    assert read == documented
    settings = (ROOT / "stationlog" / "settings.py").read_text(encoding="utf-8")
    for name in re.findall(r"\b(STATIONLOG_[A-Z_]+[A-Z]|DATABASE_URL)\b", settings):
        assert f"| `{name}` |" in README, f"{name} is not in the table of settings"


@pytest.mark.parametrize(("name", "text"), [("README.md", README), ("DEVELOPERS.md", DEVELOPERS)])
def test_every_path_that_is_named_exists(name, text):
    paths = set(re.findall(r"`([a-zA-Z_.][\w./-]*(?:/|\.py|\.md|\.css|\.js|\.txt|\.html))`", text))
    paths |= set(re.findall(r"\]\(([^)#:]+)\)", text))
    stems = ("", "templates", "static", "equipment/models")
    paths -= {"data/"}  # made when the program runs
    missing = [path for path in paths if not any((ROOT / stem / path).exists() for stem in stems)]
    assert not missing
    assert len(paths) >= 3


def test_the_numbers_in_the_readme_are_those_of_the_program(settings):
    from stationlog import launch
    from stationlog.models import Invitation

    assert f"http://{launch.ADDRESS}:{launch.PORT}/" in README
    assert f"After {settings.AXES_FAILURE_LIMIT} wrong passwords" in README
    assert settings.AXES_COOLOFF_TIME == 0.25 and "a quarter of an hour" in README
    assert f"after {Invitation.TRIES} wrong tries" in README


def test_every_app_and_folder_of_the_tree_is_on_the_map():
    packages = {path.parent for app in OURS for path in (ROOT / app).glob("*/*.py")}
    roles = {"forms", "views", "urls", "migrations", "templatetags", "management"}  # the same in every Django project
    for folder in sorted(str(path.relative_to(ROOT)) for path in packages if path.name not in roles):
        assert f"`{folder}/`" in DEVELOPERS, f"{folder}/ is not on the map"
