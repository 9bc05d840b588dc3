"""The arrows of the modules: read off the imports of every file, so that a wrong one is named."""

import ast

import pytest

from stationlog.launch import ROOT

PURE = (
    "outings/adif", "outings/areas", "outings/geography.py", "outings/sun.py", "outings/windows.py",
    "outings/daylight.py", "outings/evidence", "outings/papers",
    "equipment/physics", "equipment/pictures.py",
)
ABOVE = {  # what each Django role may not import, within its app: arrows never point up
    "models": {"forms", "intake", "queries", "views", "urls"},
    "queries": {"forms", "views", "urls"},
    "forms": {"views", "urls"},
    "intake": {"views", "urls"},
    "views": {"urls"},
}


def files(*roots):
    found = []
    for root in roots:
        path = ROOT / root
        found += sorted(path.rglob("*.py")) if path.is_dir() else [path] if path.exists() else []
    return [path for path in found if "migrations" not in path.parts]


def imports(path):
    """The full names of all modules that a file imports, wherever in it, with the line."""
    return imports_of(path.read_text(encoding="utf-8"), path.relative_to(ROOT).parent.parts)


def imports_of(source, package):
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from ((alias.name, node.lineno) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else ()
            stem = ".".join((*base, *([node.module] if node.module else [])))
            yield from ((f"{stem}.{alias.name}", node.lineno) for alias in node.names)


def wrong(paths, is_wrong):
    return [
        f"{path.relative_to(ROOT)}:{line} imports {name}"
        for path in paths for name, line in imports(path) if is_wrong(path, name)
    ]


def begins(name, *stems):
    return any(name == stem or name.startswith(f"{stem}.") for stem in stems)


def test_the_reader_of_imports_sees_every_kind():
    source = "import a.b\nfrom c import d\nfrom . import e\nfrom .f import g\nfrom ..h import i\ndef x():\n  import j\n"
    seen = sorted(name for name, _ in imports_of(source, ("outings", "queries")))
    assert seen == ["a.b", "c.d", "j", "outings.h.i", "outings.queries.e", "outings.queries.f.g"]


def test_nothing_imports_the_project():
    assert not wrong(files("equipment", "outings"), lambda path, name: begins(name, "stationlog"))


def test_equipment_knows_nothing_of_outings():
    assert not wrong(files("equipment"), lambda path, name: begins(name, "outings"))


def test_pure_modules_import_neither_django_nor_what_stands_on_it():
    django = ("django", "django_htmx", "csp", "axes", "equipment.models", "outings.models")

    def is_wrong(path, name):
        ours = begins(name, "equipment", "outings")
        pure = any(begins(name, stem.removesuffix(".py").replace("/", ".")) for stem in PURE)
        return begins(name, *django) or (ours and not pure and not is_plain(name))

    assert not wrong(files(*PURE), is_wrong)


def is_plain(name):
    """Whether one of our own modules is free of Django itself, such as a table of units."""
    parts = name.split(".")
    for length in (len(parts), len(parts) - 1):
        for path in (ROOT.joinpath(*parts[:length]).with_suffix(".py"), ROOT.joinpath(*parts[:length], "__init__.py")):
            if path.exists():
                return not any(begins(inner, "django") or not is_plain_import(inner) for inner, _ in imports(path))
    return True


def is_plain_import(name):
    return not begins(name, "equipment", "outings") or is_plain(name)


@pytest.mark.parametrize("app", ["equipment", "outings"])
@pytest.mark.parametrize("role", ABOVE)
def test_within_an_app_arrows_point_from_urls_down_to_models(app, role):
    above = [f"{app}.{upper}" for upper in ABOVE[role]]
    assert not wrong(files(f"{app}/{role}", f"{app}/{role}.py"), lambda path, name: begins(name, *above))


def test_scipy_and_statsmodels_are_imported_only_where_something_is_computed():
    """They cost about a second at the start of the program."""
    late = []
    for path in files("equipment", "outings", "stationlog"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        for node in tree.body:
            names = [a.name for a in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            late += [f"{path.relative_to(ROOT)}: {n}" for n in names if begins(n, "scipy", "statsmodels", "pandas")]
    assert not late


def test_every_file_opens_with_one_sentence_on_what_it_holds():
    silent = [
        str(path.relative_to(ROOT)) for path in files("equipment", "outings", "stationlog", "tests")
        if (text := path.read_text(encoding="utf-8")).strip() and not ast.get_docstring(ast.parse(text))
    ]
    assert not silent
