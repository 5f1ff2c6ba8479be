"""The door for a bare machine: `python3 -m fleet.config.first_start demo` (or `test`).

Nothing is installed yet, and this Python may be years old: everything in this file is written so
that Python 3.4 can read it, says in one sentence what is lacking, and gives the line that mends it.
"""

import os
import subprocess
import sys

OLDEST = (3, 11)
OTHER_NAMES = ("python3.13", "python3.12", "python3.11", "python3.14")
ASK = "import sys; print('%d.%d' % sys.version_info[:2])"


def fitting_python() -> "str | None":
    """A Python of this machine that is new enough: this one, else one by its own name; or None."""
    if sys.version_info >= OLDEST:
        return sys.executable
    for name in OTHER_NAMES:
        if version_of(name) >= OLDEST:
            return name
    return None


def version_of(name: str) -> "tuple[int, int]":
    """The version of a command, as two numbers; (0, 0) where there is none or it doesn't run."""
    try:
        answer = subprocess.check_output([name, "-c", ASK], stderr=subprocess.DEVNULL)
        major, minor = answer.decode().strip().split(".")
        return int(major), int(minor)
    except (OSError, ValueError, subprocess.CalledProcessError):
        return 0, 0


def too_old() -> str:
    """The sentence, and the line that mends it on this system."""
    found = "%d.%d" % sys.version_info[:2]
    if sys.platform == "darwin":
        mend = "brew install python@3.13"
    elif os.path.exists("/etc/debian_version"):
        mend = "sudo apt-get install python3.11 python3.11-venv"
    else:
        mend = "install Python 3.13 with your system's package manager"
    return (
        "Layline needs Python 3.11 or newer, and python3 here is " + found + ". Mend it with:\n"
        "    " + mend + "\n"
        "then run the same command again (or name one that you have: make demo PYTHON=/path/to/it)."
    )


def main() -> int:
    python = fitting_python()
    if python is None:
        sys.stderr.write(too_old() + "\n")
        return 1
    if python != sys.executable:
        return subprocess.call([python, "-m", "fleet.config.first_start"] + sys.argv[1:])
    from fleet.config.start import start

    return start(sys.argv[1:])


if __name__ == "__main__":
    sys.exit(main())
