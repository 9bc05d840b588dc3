"""Faults of the machine, tried on the real program: what was answered is there, what was refused is not, in words.

A few trials each by default; STATIONLOG_FAULTS=100 makes a long run of it, STATIONLOG_FAULT_SEED another one.
"""

import contextlib
import datetime
import re
import shutil
import signal
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from django.conf import settings
from django.db import connection
from django.test import Client

from stationlog.backups import archive, releases
from tests import faults, filling, making, power_cuts, schemas, trying
from tests.faults import FAULTS, Disk, Ledger, Program, Visitor, assert_sentence, chance_of, copy_of
from tests.starting import environment_beside, unused_port
from tests.stationlog.backups.test_releases import assert_all_came, lines

PAGES = (
    "/", "/outings/", "/outings/{0}/", "/outings/{0}/log/", "/outings/{0}/pictures/", "/outings/{0}/phones/",
    "/outings/{0}/report/", "/outings/{0}/hand-in/", "/contacts/", "/contacts/changes/", "/gear/", "/sites/", "/files/",
    "/files/export/log.adi", "/evidence/", "/performance/", "/notes/", "/account/", "/field/hello/",
    "/field/outings/{1}/",
)


@pytest.fixture(scope="module")
def log(tmp_path_factory):
    """(a data folder that is ready to be served, its facts)."""
    folder = tmp_path_factory.mktemp("prepared") / "data"
    return folder, faults.prepared(folder)


@pytest.fixture
def begun(tmp_path):
    """A function that makes a Program, ended with the test."""
    made = []

    def make(folder, **options):
        made.append(Program(folder, tmp_path, **options))
        return made[-1]

    yield make
    for program in made:
        program.kill()


@pytest.fixture
def disk(tmp_path):
    disk = Disk(tmp_path / "disk")
    yield disk
    disk.unmount()


def shelf(folder):
    return {path.name: path.stat().st_size for path in (folder / "backups").glob("stationlog-*.zip")}


def test_a_full_disk_is_said_and_nothing_is_half_stored(log, begun, disk):
    chance = chance_of("full")
    program = begun(copy_of(log[0], disk.path / "data"))
    assert program.start()
    ledger = Ledger(Visitor(program, log[1]).greet())
    starts, backups = [], []
    for number in range(FAULTS):
        disk.fill(leaving=int(10 ** chance.uniform(2, 6)))
        for _ in range(4):
            ledger.anyhow(chance)
        if number % 5 == 1:
            before = shelf(program.folder)
            done = program.run("backup")
            backups.append(done.returncode == 0)
            if done.returncode:
                assert_sentence(done.stdout)
            after = shelf(program.folder)
            assert before.items() <= after.items() and len(after) == len(before) + backups[-1]
            assert not list((program.folder / "backups").glob(".*.part"))
        if number % 5 == 2:
            program.kill(chance.choice([signal.SIGKILL, signal.SIGINT]))
            if not program.start():
                assert re.search("The disk .+ is full|No space left on device", program.said.read_text())
                disk.free()
                assert program.start()
                starts.append(False)
            else:
                starts.append(True)
        disk.free()
        assert ledger.by_form() and ledger.by_phone() and ledger.by_picture()
        ledger.check(program)
    assert program.is_sound()
    assert {status for _, status in ledger.answers} == {200, 302, 507}, ledger.answers
    print(f"full disk, {FAULTS} times: {ledger.summary()}; started while full {starts}, backups made {backups}")


def test_a_read_only_disk_can_be_read_and_takes_nothing(log, begun, disk):
    chance = chance_of("read-only")
    program = begun(copy_of(log[0], disk.path / "data"))
    assert program.start()
    ledger = Ledger(Visitor(program, log[1]).greet())
    for number in range(FAULTS):
        ledger.anyhow(chance)
        if number % 5 == 1:
            leave_a_log(program)
        disk.turn("ro")
        for page in chance.sample(PAGES, 8):
            status, text, _ = ledger.visitor.ask("GET", page.format(ledger.visitor.outing, ledger.visitor.uuid))
            assert status == 200, (page, status, text, program.said.read_text()[-3000:])
        for _ in range(3):
            assert not ledger.anyhow(chance)
        if number % 10 in (1, 2):
            done = program.run(*(["backup"] if number % 10 == 1 else ["start", "--port", unused_port()]))
            assert done.returncode == 1
            assert_sentence(done.stdout)
        disk.turn("rw")
        assert ledger.by_form()
        ledger.check(program)
    assert program.is_sound()
    print(f"read-only disk, {FAULTS} times: {ledger.summary()}")


def leave_a_log(program):
    """A process of the program is killed after it stored something: its log stays beside the database."""
    script = (
        "import os; from django.db import connection as c; c.ensure_connection(); "
        """c.connection.execute("UPDATE stationlog_operator SET name = name || '.'"); os._exit(9)"""
    )
    assert program.run("shell", "--verbosity", "0", "--command", script).returncode == 9
    assert Path(f"{program.database}-wal").stat().st_size


CARELESS = """
OPTIONS = DATABASES["default"]["OPTIONS"]
OPTIONS["init_command"] = OPTIONS["init_command"].replace("synchronous=FULL", "synchronous=OFF")
STORAGES["default"] = {"BACKEND": "django.core.files.storage.FileSystemStorage"}
"""


def recorded_work(log, begun, tmp_path, name, settings="", work=6):
    """(what the program wrote while three stored so much each, the Ledger of what it answered)."""
    if not power_cuts.is_there():
        trying.not_tried("cuts of power", "they are simulated with strace, which is not installed")
    program = begun(copy_of(log[0], tmp_path / name), settings=settings)
    assert program.start(*power_cuts.recorder(tmp_path / "record"))
    ledger = Ledger(Visitor(program, log[1]).greet())
    with ThreadPoolExecutor(3) as pool:
        work_on = [pool.submit(some_work, ledger, chance_of(f"{name} {number}"), work) for number in range(3)]
        for done in work_on:
            done.result()
    program.kill(signal.SIGTERM)
    assert not ledger.refused
    return power_cuts.Recorded(tmp_path / "record", program.folder, log[0]), ledger


def some_work(ledger, chance, work):
    for _ in range(work):
        ledger.anyhow(chance)


def losses_after_cuts(recorded, ledger, begun, tmp_path, chance, cuts):
    """What is missing after cuts of power at random moments: a list of words for each."""
    found, first = [], next(i for i, step in enumerate(recorded.steps) if step[0] > min(ledger.told.values()) - 1)
    for number in range(cuts):
        after = chance.randint(first, len(recorded.steps))
        folder = recorded.disk_after(after, chance, tmp_path / "cut")
        program = begun(folder)
        found.append(ledger.lost_in(program, until=recorded.steps[after - 1][0]))
        if number % 50 == 0 and not found[-1]:
            assert program.start(), program.said.read_text()
            assert Visitor(program, {"session": "", "outing": 0, "uuid": ""}).ask("GET", "/login/")[0] == 200
            program.kill()
        shutil.rmtree(folder)
    return found


def test_cuts_of_power_lose_nothing_that_was_answered(log, begun, tmp_path):
    recorded, ledger = recorded_work(log, begun, tmp_path, "careful", work=min(max(FAULTS, 6), 20))
    cuts = max(FAULTS, 10)
    found = losses_after_cuts(recorded, ledger, begun, tmp_path, chance_of("cuts"), cuts)
    assert not any(found), [words for words in found if words]
    print(f"power cut {cuts} times in {len(recorded.steps)} steps of writing: nothing lost of {ledger.summary()}")


def test_the_simulated_cuts_find_a_database_that_does_not_sync(log, begun, tmp_path):
    recorded, ledger = recorded_work(log, begun, tmp_path, "careless", CARELESS)
    found = losses_after_cuts(recorded, ledger, begun, tmp_path, chance_of("cuts"), 10)
    lost = [words for words in found if words]
    assert len(lost) > 3, found
    said = " ".join(word for words in found for word in words)
    assert ("contact" in said or "database" in said) and ("picture" in said or "file of" in said)
    print(f"with synchronous=OFF {len(lost)} of 10 cuts lost something or damaged the database")


def test_the_database_is_used_as_the_trials_suppose(log):
    # 2 is FULL (sqlite.org/pragma.html#pragma_synchronous)
    assert log[1]["pragmas"] == {"journal_mode": "wal", "synchronous": 2, "page_size": 8192, "foreign_keys": 1}


THREE_SECONDS = """
OPTIONS = DATABASES["default"]["OPTIONS"]
OPTIONS |= {"timeout": 3} if "timeout" in OPTIONS else {"options": "-c lock_timeout=3s"}
"""


def facts_of(outing):
    """What a Visitor has to know, of rows of the test's own database."""
    client = Client()
    client.force_login(outing.owner)
    cookie = client.cookies[settings.SESSION_COOKIE_NAME].value
    return {"session": cookie, "outing": outing.pk, "uuid": str(outing.uuid)}


@pytest.mark.django_db(transaction=True)
def test_a_locked_database_is_waited_for_and_then_said(begun, tmp_path):
    chance = chance_of("locked")
    facts = facts_of(making.an_outing())
    program = begun(tmp_path, settings=THREE_SECONDS, **environment_beside(tmp_path))
    assert program.start()
    ledger = Ledger(Visitor(program, facts).greet())
    for _ in range(FAULTS):
        with faults.locked(program, chance):  # for longer than anybody waits
            assert not ledger.anyhow(chance)
        with ThreadPoolExecutor(1) as pool:
            with faults.locked(program, chance):
                done = pool.submit(ledger.anyhow, chance)
                time.sleep(chance.uniform(0, 0.4))
            assert done.result()
        assert ledger.by_phone(), "a phone hands in what it kept"
        assert not ledger.waiting
        ledger.check(program)
    print(f"locked {2 * FAULTS} times: {ledger.summary()}")


if connection.vendor == "postgresql":

    @pytest.mark.django_db(transaction=True)
    def test_a_server_of_the_database_that_is_away_is_said_and_nothing_is_half_stored(begun, tmp_path):
        chance = chance_of("away")
        facts = facts_of(making.an_outing())
        wire = faults.Wire(tmp_path)
        environment = environment_beside(tmp_path)
        address = urlsplit(environment["DATABASE_URL"])
        environment["DATABASE_URL"] = f"postgresql://{address.username}@{address.path}?host={tmp_path}"
        program = begun(tmp_path, **environment)
        assert program.start()
        ledger = Ledger(Visitor(program, facts).greet())
        for _ in range(FAULTS):
            with ThreadPoolExecutor(1) as pool:
                done = pool.submit(ledger.anyhow, chance)
                time.sleep(chance.uniform(0, 0.15))
                wire.cut()
                done.result()
            assert not ledger.anyhow(chance) and not ledger.by_phone()
            wire.join()
            assert ledger.by_form() and ledger.by_phone()
            assert not (lost := ledger.lost_in(program, until=time.time())), lost
        print(f"PostgreSQL away {FAULTS} times: {ledger.summary()}")


@pytest.fixture
def older(begun, tmp_path, settings):
    """A function that makes a Program on a log of the first release, with a value in every column."""
    with contextlib.ExitStack() as stack:

        def program(name, template="template0"):
            if connection.vendor == "sqlite":
                return begun(tmp_path / name)
            made = stack.enter_context(schemas.on_the_server(template))
            address = urlsplit(environment_beside(tmp_path)["DATABASE_URL"])._replace(path=f"/{made}")
            return begun(tmp_path / name, DATABASE_URL=address.geturl())

        first = program("first")
        settings.MEDIA_ROOT = first.folder / "media"
        settings.MEDIA_ROOT.mkdir(parents=True)
        database = urlsplit(first.environment.get("DATABASE_URL", "")).path[1:]
        with schemas.standing_on(database) if database else releases.standing_in(first.database):
            filling.write_files(filling.fill(schemas.at_the_first_release()))

        def copied(name):
            copy_of(first.folder, tmp_path / name)
            return program(name, database)

        yield copied


@pytest.mark.django_db(transaction=True)
def test_an_update_that_is_killed_has_done_all_or_nothing_and_is_done_by_the_next_start(older):
    chance, outcomes = chance_of("update"), Counter()
    program = older("undisturbed")
    steps, text = program.rows()
    before, started = lines(text), time.monotonic()
    assert steps and program.start(), program.said.read_text()
    lasts_s = time.monotonic() - started
    program.kill()
    for number in range(FAULTS):
        program = older(f"killed {number}")
        program.begin()
        time.sleep(chance.uniform(0, lasts_s))
        program.kill()
        left, text = program.rows()
        assert left in (0, steps) and program.is_sound()
        assert_all_came(before, lines(text))
        kept = backups_before_updates(program)
        assert kept or left == steps
        outcomes["updated" if not left else "a backup only" if kept else "untouched"] += 1
        if not program.start():
            bring_back(program, kept)
        left, text = program.rows()
        assert left == 0 and program.is_sound()
        assert_all_came(before, lines(text))
        program.kill()
        shutil.rmtree(program.folder)
    print(f"killed {FAULTS} times within {lasts_s:.1f} s of a start that brings a log up to date: {dict(outcomes)}")


def backups_before_updates(program):
    """The backups that were made before an update, each of them whole."""
    kept = sorted((program.folder / "backups").glob("*-before-update.zip"))
    for path in kept:
        archive.verified(path)
    return kept


def bring_back(program, kept):
    """Follow the sentence that a start ended with: it names a backup, which is restored."""
    said = program.said.read_text()
    assert_sentence(said)
    (named,) = [path for path in kept if str(path) in said]
    done = program.run("restore", named, "--yes")
    assert done.returncode == 0, done.stdout
    assert program.start(), program.said.read_text()


def test_a_clock_that_jumps_loses_nothing_and_opens_nothing(log, begun, tmp_path):
    chance = chance_of("clock")
    clock = faults.Clock(tmp_path)
    begun_at = clock.now
    program = begun(copy_of(log[0], tmp_path / "data"), **clock.variables)
    assert program.start(), program.said.read_text()
    visitor = Visitor(program, log[1]).greet()
    ledger, seen, out, refused, made = Ledger(visitor), clock.now, 0, 0, []
    for number in range(FAULTS):
        clock.jump(chance)
        if visitor.ask("GET", "/field/hello/")[0] == 401:
            out, seen = out + 1, clock.now
            visitor.log_in()
        else:
            assert clock.now < seen + SESSION
            seen = max(seen, clock.now)
        assert ledger.by_form()
        call = max(ledger.told, key=ledger.told.get)
        (at,), = program.asked("SELECT started_at FROM outings_contact WHERE call = ?", call)
        assert abs(datetime.datetime.fromisoformat(f"{at}+00:00") - clock.now) < datetime.timedelta(minutes=1)
        phone_s = chance.choice((0, 3600, 5 * 365 * 86400))
        at = clock.now + datetime.timedelta(seconds=chance.uniform(-phone_s, phone_s))
        assert ledger.by_phone(3, f"{at:%Y-%m-%dT%H:%M:%SZ}")
        refused += not a_stint(visitor, program, clock, chance)
        for page in chance.sample(PAGES, 3):
            answer = visitor.ask("GET", page.format(visitor.outing, visitor.uuid))
            assert answer[0] in (200, 401) or "/login/" in answer[2], (page, answer)
        status, *_ = visitor.ask("GET", f"/pair/{log[1]['token']}/")
        age = clock.now - begun_at
        assert status != 200 or -datetime.timedelta(minutes=2) < age < datetime.timedelta(minutes=10)
        if number % 10 == 1:
            before = shelf(program.folder)
            assert program.run("backup").returncode == 0
            made += {*shelf(program.folder)} - {*before}
            assert {*made[-2:]} <= {*shelf(program.folder)}
        ledger.check(program)
    assert program.asked("SELECT count(*) FROM outings_stint WHERE ended_at < started_at OR on_air_s < 0") == [(0,)]
    clock.set(0)
    assert program.is_sound()
    print(f"clock set {2 * FAULTS} times: {ledger.summary()}; logged in anew {out}, stints refused in words {refused}")


SESSION = datetime.timedelta(seconds=settings.SESSION_COOKIE_AGE, hours=1)


def a_stint(visitor, program, clock, chance):
    """Begin a stint, have the clock jump, and stop it; says whether that went without a word of refusal."""
    path = f"/outings/{visitor.outing}/log/stints/"
    data = {"begin-tuning": "20m", "begin-mode_typed": "CW"}
    assert visitor.post(f"{path}begin/", **data)[0] == 302
    (pk,), = program.asked("SELECT max(id) FROM outings_stint")
    before = clock.ahead_s
    clock.jump(chance)
    status, text, where = visitor.post(f"{path}{pk}/stop/")
    clock.set(before)
    if (status, "/login/" in where) == (302, False):
        return True
    refused = status == 422 and "It cannot stop before it began" in text
    assert refused or "/login/" in where, (status, text[-3000:])
    end = clock.now + datetime.timedelta(seconds=2)
    assert visitor.post(f"{path}{pk}/stop/", **{f"when-{pk}-at": f"{end:%Y-%m-%d %H%M%S}"})[0] == 302
    return False


def damage(path, how, chance):
    """Spoil a file in one of several ways."""
    content = bytearray(path.read_bytes())
    if how == "cut off":
        del content[chance.randrange(len(content)):]
    elif how == "header":
        content[:100] = bytes(100)
    elif how == "something else":
        content = b"This is no database at all.\n" * 400
    else:
        size = {"pages": 8192, "zeros": 8192, "sectors": 512}[how]
        for _ in range(chance.randint(1, 8)):
            start = chance.randrange(len(content) // size) * size
            content[start:start + size] = bytes(size) if how == "zeros" else chance.randbytes(size)
    path.write_bytes(content)


WAYS = ("pages", "cut off", "header", "zeros", "something else", "sectors", "its log")


def test_a_damaged_database_is_refused_with_the_newest_backup_that_is_whole_and_that_brings_it_back(
    log, begun, tmp_path
):
    chance, outcomes = chance_of("damaged"), Counter()
    for number in range(FAULTS):
        program = begun(copy_of(log[0], tmp_path / f"data {number}"))
        (made,) = (program.folder / "backups").glob("*.zip")
        whole = [Path(shutil.copy(made, made.with_name(f"stationlog-2026010{day}-120000.zip"))) for day in (1, 2, 3)]
        whole.append(made)
        for _ in range(chance.randint(0, 3)):
            damage(whole.pop(), chance.choice(("cut off", "sectors", "something else")), chance)
        how = WAYS[number % len(WAYS)]
        if how == "its log":
            leave_a_log(program)
            damage(Path(f"{program.database}-wal"), "sectors", chance)
        else:
            damage(program.database, how, chance)
        if program.start():  # nothing that SQLite could know: it holds no sums of what cells say
            outcomes[how, "not seen"] += 1
            look_round(Visitor(program, log[1]))
            program.kill()
        else:
            outcomes[how, "refused"] += 1
            said = program.said.read_text()
            assert_sentence(said)
            assert f"manage.py restore {whole[-1]}" in said, said
            done = program.run("restore", whole[-1], "--yes")
            assert done.returncode == 0, done.stdout
            assert program.is_sound() and program.asked("SELECT call FROM outings_contact") == [("Q0XYZ",)]
            if number % 10 == 9:
                assert program.start(), program.said.read_text()
                program.kill()
        shutil.rmtree(program.folder)
    print(f"damaged database, {FAULTS} times: {dict(outcomes)}")


def test_damage_while_the_program_runs_is_said(log, begun, tmp_path):
    chance, answers = chance_of("spoilt"), Counter()
    program = begun(copy_of(log[0], tmp_path / "data"))
    assert program.start()
    visitor = Visitor(program, log[1]).greet()
    sound = program.database.read_bytes()
    for number in range(FAULTS):
        damage(program.database, WAYS[number % 6], chance)
        if chance.random() < 0.3:
            Path(f"{program.database}-wal").write_bytes(chance.randbytes(chance.randrange(100_000)))
        answers += look_round(visitor, chance.sample(PAGES, 6))
        for end in ("-wal", "-shm"):
            Path(f"{program.database}{end}").unlink(missing_ok=True)
        program.database.write_bytes(sound)
        assert visitor.ask("GET", "/contacts/")[0] == 200
    print(f"damaged {FAULTS} times under the running program: {dict(answers)}")


def look_round(visitor, pages=PAGES):
    """Every page is answered, if not with what is asked then with a sentence: how often with which status."""
    statuses = Counter()
    for page in pages:
        status = visitor.ask("GET", page.format(visitor.outing, visitor.uuid))[0]
        known = (200, 302, 401, 404, *faults.SENTENCES)
        assert status in known, (page, status, visitor.program.said.read_text()[-3000:])
        statuses[status] += 1
    return statuses
