"""The command line of stationlog: `python3 manage.py start` runs it, `python3 manage.py test` tests it."""

import sys

if sys.version_info < (3, 11):  # noqa: UP036 - said by the old one itself
    sys.exit(
        "stationlog needs Python 3.11 or newer, and this is Python %d.%d: "  # noqa: UP031
        "install a newer one from your system or from python.org, and start with that." % sys.version_info[:2]
    )

if __name__ == "__main__":
    from stationlog import launch

    sys.exit(launch.main(sys.argv))
