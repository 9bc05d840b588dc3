"""What happens before Django can be imported: the environment to run in is found or made, and what is missing is said.

Only the standard library is used here, and `equipment/progress.py`, which uses no more. Everything that can go wrong
ends in a `Trouble`: one sentence for the person at the keyboard that says what to do.
"""

import argparse
import hashlib
import importlib.metadata
import importlib.util
import multiprocessing
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading
from pathlib import Path

from equipment import progress

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
STAMP = VENV / "stationlog-requirements.txt"  # what was installed, and for which Python
INSTALL_LOG = VENV / "stationlog-install.log"
REQUIREMENTS = ROOT / "requirements.txt"
WINDOWS = os.name == "nt"
ADDRESS = "127.0.0.1"
PORT = 8000
EVERYWHERE = "0.0.0.0"  # every network that this computer is on
PHONE_PORT = 8443
LOOKED_EVERY_S = 0.25  # how many packages are unpacked


NEED_A_FITTING_DATABASE = {  # commands that read and write the log, as this release has it
    "demo", "import_adif", "export_adif", "performance", "compare", "export_all", "work_on_file", "changepassword",
}


class Trouble(Exception):
    """Something that the person at the keyboard has to put right; its text says how."""


def main(argv):
    """Run a command in an environment that has the requirements; returns the exit status."""
    command = argv[1] if len(argv) > 1 else "help"
    try:
        if command == "start":
            options = start_options().parse_args(argv[2:])
            writable_data_folder()
            free_ports(options.port, options.phone_port if options.phone else None)
        python = environment(own=command == "test")
        if python != sys.executable:
            return hand_over([python, str(ROOT / "manage.py"), *argv[1:]])
        if command == "test":
            from stationlog import trial

            return trial.run(argv[2:])
        os.environ.setdefault("DJANGO_SETTINGS_MODULE", "stationlog.settings")
        from django.core.exceptions import ImproperlyConfigured
        from django.core.management import execute_from_command_line

        try:
            if command in NEED_A_FITTING_DATABASE and not {"-h", "--help"} & {*argv}:
                fitting_database()
            execute_from_command_line(argv)
        except ImproperlyConfigured as error:
            raise Trouble(str(error)) from None
        except Exception as error:
            if not (reason := known_reason(error)):
                raise
            raise Trouble(reason) from None
        return 0
    except Trouble as trouble:
        print(f"\nstationlog: {trouble}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("\nstationlog: stopped.", file=sys.stderr)
        return 130


def known_reason(error):
    """A sentence for what a command failed with, if it is something that somebody can put right."""
    from stationlog.views import trouble

    status, reason = trouble.reason_of(error)
    return reason if status in (trouble.FULL, trouble.AWAY) else ""


def start_options(parser=None):
    """The options of `start`, for here and for the Django command of that name."""
    if parser is None:
        parser = argparse.ArgumentParser(prog="manage.py start", description="Run stationlog on this computer.")
    parser.add_argument("--port", type=port, default=PORT, help=f"port to listen on (default {PORT})")
    parser.add_argument("--demo", action="store_true", help="load the demo scenario into an account of its own")
    parser.add_argument("--phone", action="store_true", help="serve phones on the home network too, over HTTPS")
    parser.add_argument(
        "--phone-port", type=port, default=PHONE_PORT, metavar="PORT",
        help=f"port of that (default {PHONE_PORT}); the next one hands out the certificate",
    )
    return parser


def port(text):
    """A port number as it is typed."""
    number = int(text) if re.fullmatch(r"[0-9]{1,5}", text) else 0
    if not 1 <= number <= 65535:
        raise argparse.ArgumentTypeError(f"a port is a number from 1 to 65535, not {text}")
    return number


# --- the machine -----------------------------------------------------------------------------------------------------


def data_folder():
    """The one folder that everything is kept in."""
    return Path(os.environ.get("STATIONLOG_DATA") or ROOT / "data").resolve()


def writable_data_folder():
    """Make the data folder, or say why nothing can be kept there."""
    folder = data_folder()
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as error:
        raise Trouble(
            f"cannot write in the data folder {folder} ({error.strerror}). Give yourself the right to write there, "
            "or name another folder in the environment variable STATIONLOG_DATA."
        ) from None


def fitting_database():
    """Make sure that the database is of this release; one that cannot be opened is the command's to tell of."""
    import django
    from django.db import DatabaseError

    django.setup()
    from stationlog.backups import updating

    try:
        misfit = updating.misfit()
    except DatabaseError:
        return
    if misfit:
        raise Trouble(misfit)


def answers(number):
    """Whether something listens on the port."""
    with socket.socket() as probe:
        probe.settimeout(1)
        return probe.connect_ex((ADDRESS, number)) == 0


def free_ports(number, phone_number=None):
    """Make sure that nothing else listens on the ports of the program."""
    free_port(number)
    if phone_number is not None:
        other = PHONE_PORT + 10 if {number, phone_number} & {PHONE_PORT, PHONE_PORT + 1} else PHONE_PORT
        way_out = f"--phone --phone-port {other}"
        if phone_number == 65535 or number in (phone_number, phone_number + 1):
            raise Trouble(
                f"phones need port {phone_number} and the next one for themselves. Start with another one: "
                f"manage.py start {way_out}"
            )
        for wanted in (phone_number, phone_number + 1):
            free_port(wanted, EVERYWHERE, way_out)


def free_port(number, address=ADDRESS, way_out=""):
    """Make sure that nothing else listens on the port."""
    way_out = way_out or f"--port {PORT + 1 if number == PORT else PORT}"
    busy = Trouble(
        f"port {number} is in use, perhaps by a stationlog that is still running. Stop that program, or start "
        f"with another port: manage.py start {way_out}"
    )
    if answers(number):
        raise busy
    with socket.socket() as probe:
        if not WINDOWS:  # a port in its closing minutes counts as free; on Windows the option means something else
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((address, number))
        except PermissionError:
            raise Trouble(
                f"this account may not listen on port {number}. Start with another one: manage.py start {way_out}"
            ) from None
        except OSError:
            raise busy from None


# --- the environment -------------------------------------------------------------------------------------------------


def environment(own=False):
    """The path of a Python that has the requirements; made and filled beside manage.py where there is none.

    With `own` it has to be an environment that more may be installed into, so not the system's Python.
    """
    inside = Path(sys.prefix).resolve() == VENV.resolve()
    if not inside and has_requirements() and not (own and sys.prefix == sys.base_prefix):
        return sys.executable
    python = venv_python()
    if inside:
        python = Path(sys.executable)
    elif not runs(python):
        make_venv(python)
    if stamped() != stamp(python):
        if not (inside and has_requirements()):
            install(python, REQUIREMENTS)
        try:
            STAMP.write_text(stamp(python), encoding="ascii")
        except OSError:
            raise unwritable_project() from None
    return str(python)


def has_requirements(path=REQUIREMENTS):
    """Whether the Python that runs this has every pinned requirement in its exact version."""
    try:
        return all(importlib.metadata.version(name) == version for name, version in pinned(path))
    except importlib.metadata.PackageNotFoundError:
        return False


def pinned(path):
    """The (name, version) pairs of a requirements file; names without their extras."""
    return re.findall(r"^([A-Za-z0-9._-]+)(?:\[[^\]]*\])?==([^\s#;]+)", path.read_text(encoding="utf-8"), re.MULTILINE)


def venv_python():
    return VENV / ("Scripts/python.exe" if WINDOWS else "bin/python")


def stamp(python, requirements=REQUIREMENTS):
    """What an environment has to hold, in a line: the requirements' digest and the Python they are for."""
    return f"{hashlib.sha256(requirements.read_bytes()).hexdigest()} {version_of(python)}\n"


def stamped(path=STAMP):
    """What an environment says that it holds; empty if it says nothing."""
    try:
        return path.read_text(encoding="ascii")
    except (OSError, ValueError):
        return ""


def version_of(python):
    """The version of a Python, such as 3.11; empty if it does not run."""
    if str(python) == sys.executable:
        return "{}.{}".format(*sys.version_info)
    try:
        asked = subprocess.run(
            [python, "-I", "-S", "-c", "import sys; print('{}.{}'.format(*sys.version_info))"],
            capture_output=True, text=True, check=True,
        )
    except (OSError, subprocess.CalledProcessError):
        return ""
    return asked.stdout.strip()


def runs(python):
    """Whether the environment is whole enough to install into, or stamped as filled by us."""
    version = version_of(python)
    if not version:
        return False
    if stamped().endswith(f" {version}\n"):
        return True
    return subprocess.run([python, "-I", "-m", "pip", "--version"], capture_output=True).returncode == 0


def unwritable_project():
    return Trouble(
        f"cannot write in {ROOT}, where the program keeps its environment (.venv). "
        "Copy the whole folder to a place where you may write, and start it from there."
    )


def make_venv(python):
    """Make the environment anew; what is left of a broken one is cleared away."""
    if importlib.util.find_spec("venv") is None or importlib.util.find_spec("ensurepip") is None:
        raise Trouble(
            "this Python has no venv module, which comes as a package of its own on Debian and Ubuntu. Install it "
            "(sudo apt install python3-venv) and start again."
        )
    say(f"Making an environment for Python {'{}.{}'.format(*sys.version_info)} in {VENV} ...")
    if VENV.is_file():
        raise Trouble(f"the file {VENV} is in the way of the program's environment. Move it away and start again.")
    try:
        with progress.on_terminal(), progress.step("Making it"):
            made = subprocess.run(
                [sys.executable, "-m", "venv", "--clear", VENV], capture_output=True, text=True, env=pip_environment()
            )
    except OSError as error:
        raise Trouble(f"cannot run {sys.executable} ({error.strerror}). Install Python again.") from None
    if made.returncode or not version_of(python):
        if not os.access(ROOT, os.W_OK) or re.search("Permission denied|Read-only file system", made.stderr):
            raise unwritable_project()
        if "No space left" in made.stderr:
            raise full_disk()
        if "ensurepip" in made.stdout + made.stderr:
            raise Trouble(
                "this Python cannot put pip into a new environment. On Debian and Ubuntu install the package "
                "python3-venv (sudo apt install python3-venv), elsewhere install Python again, and start again."
            )
        last = (made.stderr or made.stdout).strip().rpartition("\n")[2]
        raise Trouble(f"cannot make the environment {VENV} ({last}). Delete that folder and start again.")


def pip_environment():
    """The environment variables for pip: those that are set, less what would lead it out of our folder."""
    kept = {k: v for k, v in os.environ.items() if k not in ("PIP_TARGET", "PIP_PREFIX", "PIP_ROOT", "PYTHONHOME")}
    return {**kept, "PIP_USER": "0", "PIP_RETRIES": os.environ.get("PIP_RETRIES", "2"), "PYTHONUNBUFFERED": "1"}


def install(python, requirements):
    """Install a requirements file; this is the step that takes a while at the first start."""
    say(f"Installing {len(pinned(requirements))} packages and what they need; this takes a few minutes, once ...")
    pip_install(python, "-r", requirements)


def pip_install(python, *what):
    """Install with pip, showing what it fetches; raises Trouble with the likely cause.

    Byte code is made of what is used, by whoever first uses it: of all that is there it takes half of the time.
    """
    later = () if sys.dont_write_bytecode else ("--no-compile",)
    command = [
        python, "-m", "pip", "install", "--disable-pip-version-check", "--no-input", "--progress-bar", "off", *later,
        *what,
    ]
    lines = []
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, errors="replace", env=pip_environment()
    ) as pip, progress.on_terminal():
        for line in pip.stdout:
            lines.append(line)
            show(line)
            if line.startswith("Installing collected packages"):
                lines += rest_of(pip, line.count(",") + 1)
    if pip.returncode:
        try:
            INSTALL_LOG.write_text("".join(lines), encoding="utf-8")
        except OSError:
            raise unwritable_project() from None
        raise cause_of("".join(lines))


def rest_of(pip, count):
    """What pip says while it unpacks so many packages, without a word on how far it is: what is there is counted."""
    said, before, told = [], len(unpacked()), 0
    reader = threading.Thread(target=lambda: said.extend(pip.stdout), daemon=True)  # pip stops while nobody reads
    reader.start()
    with progress.step("Unpacking packages", count) as did:
        while reader.is_alive():
            reader.join(LOOKED_EVERY_S)
            now = len(unpacked()) - before
            did(now - told)
            told = now
    return said


def unpacked():
    """The packages in the environment of which pip has written its last file; `lib64` may be `lib` by another name."""
    folders = ("lib*/python*", "Lib")
    return {path.parent.name for lib in folders for path in VENV.glob(f"{lib}/site-packages/*.dist-info/INSTALLER")}


def show(line):
    """Pass on the lines of pip that say how far it is."""
    if found := re.match(r"Collecting (\S+)", line):
        say(f"  {found[1]}")
    elif found := re.match(r"\s+Downloading \S+ \((.+)\)", line):
        say(f"    fetching {found[1]}")
    elif line.startswith("Installing collected packages"):
        say(f"  unpacking {line.count(',') + 1} packages, a minute or so ...")


def cause_of(output):
    """The Trouble that fits what pip wrote before it gave up."""
    if "No space left" in output:
        return full_disk()
    if re.search(r"Permission denied|Read-only file system", output):
        return unwritable_project()
    if re.search(r"Retrying \(|ConnectionError|ConnectTimeout|ReadTimeout|SSLError|ProxyError", output):
        return Trouble(
            "the package registry could not be reached, so the requirements were not installed. Check the network "
            "(or the proxy, or PIP_INDEX_URL) and start again: what was fetched is not fetched twice. "
            f"Details: {INSTALL_LOG}"
        )
    if found := re.search(r"No matching distribution found for (\S+)", output):
        return Trouble(
            f"the registry has no {found[1]} for Python {'{}.{}'.format(*sys.version_info)} on this system. "
            f"Start with another version of Python, 3.11 to 3.13. Details: {INSTALL_LOG}"
        )
    return Trouble(f"the requirements could not be installed. The reason is at the end of {INSTALL_LOG}")


def full_disk():
    free = shutil.disk_usage(ROOT).free // 1_000_000
    return Trouble(f"the disk is full: {free} MB are free, and the program needs about 500. Make room and start again.")


def say(text):
    print(text, flush=True)


# --- running ---------------------------------------------------------------------------------------------------------


def application():
    """What a worker of the web server runs.

    A worker is deaf to Ctrl-C and to the closing of the window, which reach all processes of a terminal: the main
    process hears them and ends its workers. Told twice at once, a worker could hang.
    """
    deaf_to_terminal(True)
    end_with_parent()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "stationlog.settings")
    from stationlog.wsgi import application

    return application


def end_with_parent():
    """End this worker when the main process is gone, killed without a chance to end it: its port would stay busy."""
    parent = multiprocessing.parent_process()

    def wait():
        parent.join()
        os._exit(1)  # what was being stored is one transaction, all or nothing

    if parent:
        threading.Thread(target=wait, daemon=True).start()


def application_for_phones():
    """The same for the worker that phones reach: it answers to its names on the network and to no others."""
    application()
    from django.conf import settings

    from stationlog.phones import door
    from stationlog.wsgi import application as found

    settings.ALLOWED_HOSTS = list(door.noted(settings.DATA_DIR).hosts)
    return found


def deaf_to_terminal(deaf):
    """Hold back the signals of a terminal, or let them through again (Windows has none to hold back)."""
    if not WINDOWS:
        how = signal.SIG_BLOCK if deaf else signal.SIG_UNBLOCK
        signal.pthread_sigmask(how, {signal.SIGINT, signal.SIGHUP})


def hand_over(command):
    """Go on as another program in place of this one; on Windows, with it as a child that gets Ctrl-C itself."""
    sys.stdout.flush()
    sys.stderr.flush()
    if not WINDOWS:
        os.execv(command[0], command)
    signal.signal(signal.SIGINT, lambda *_: None)
    return subprocess.call(command)
