"""Set Evenfall up beside this file and run it: `python3 start.py [arguments of evenfall]`.

Without arguments the page is served for the folder `planes` beside this file, a demo plane in it, and that plane's plan
is printed in a few lines. `--test` adds the test tools and runs the everyday tests,
`--test --long` the long studies too; other arguments then go to pytest. Needs Python 3.11 or later and nothing else;
everything goes into `.venv` beside this file.
"""

import hashlib
import os
import subprocess
import sys

HERE = os.path.dirname(os.path.abspath(__file__))
ENVIRONMENT = os.path.join(HERE, ".venv")
STAMP = os.path.join(ENVIRONMENT, "evenfall-stamp.txt")
PLANES = os.path.join(HERE, "planes")
DEMO = os.path.join(PLANES, "demo_biplane_124.toml")
OLDEST = (3, 11)


def environment_python() -> "str":
    """The Python inside the private environment."""
    parts = ("Scripts", "python.exe") if os.name == "nt" else ("bin", "python")
    return os.path.join(ENVIRONMENT, *parts)


def fingerprint() -> "str":
    """Changes when what was installed no longer fits: pyproject.toml, the version, the Python, this folder.

    The package is installed in place, so other changes of its sources are seen without installing again.
    """
    digest = hashlib.sha256(repr((os.path.realpath(environment_python()), sys.platform, HERE)).encode())
    for name in ("pyproject.toml", os.path.join("src", "evenfall", "__init__.py")):
        with open(os.path.join(HERE, name), "rb") as stream:
            digest.update(stream.read())
    return digest.hexdigest()


def run(command: "list[str]", quiet: "bool" = False) -> "int":
    """Run a command in the foreground and return its exit code."""
    if quiet:
        return subprocess.call(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    return subprocess.call(command)


def installed(wanted: "list[str]") -> "bool":
    """The environment holds at least these extras, as of the present sources."""
    try:
        with open(STAMP, encoding="utf-8") as stream:
            mark, *extras = stream.read().split()
    except (OSError, ValueError):
        return False
    return mark == fingerprint() and set(wanted) <= set(extras) and os.path.exists(environment_python())


def install(extras: "list[str]") -> "None":
    """Make the environment where needed and install the package in it; the stamp is written last."""
    kept = set(extras)
    if os.path.exists(STAMP):
        with open(STAMP, encoding="utf-8") as stream:
            kept |= set(stream.read().split()[1:])
        os.remove(STAMP)
    print("Setting up in .venv (needs the network, once) ...", file=sys.stderr, flush=True)
    if not usable(environment_python()):
        code = run([sys.executable, "-m", "venv", "--clear", ENVIRONMENT])
        if code:
            sys.exit(
                "start.py: Python cannot make a private environment (module venv or ensurepip is missing).\n"
                "Debian and Ubuntu: sudo apt install python3-venv. Elsewhere: install Python from python.org."
            )
    target = HERE + ("[" + ",".join(sorted(kept)) + "]" if kept else "")
    pip = [environment_python(), "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
    if run([*pip, "--editable", target]):
        sys.exit("start.py: the installation failed; see the lines above. With a network, run the same command again.")
    temporary = STAMP + ".part"
    with open(temporary, "w", encoding="utf-8") as stream:
        stream.write(" ".join([fingerprint(), *sorted(kept)]))
    os.replace(temporary, STAMP)


def usable(python: "str") -> "bool":
    """The environment's Python starts, is new enough and has pip."""
    if not os.path.exists(python):
        return False
    probe = "import sys, pip; sys.exit(sys.version_info < %r)" % (OLDEST,)
    return run([python, "-c", probe], quiet=True) == 0


def hand_over(command: "list[str]") -> "None":
    """Go on as that command: replaces this process, or waits for it where the system cannot."""
    if os.name == "nt":
        sys.exit(run(command))
    sys.stdout.flush()
    os.execv(command[0], command)


def page() -> "list[str]":
    """The arguments that serve the page; with the demo plane unless its file was taken out of the folder."""
    opened = ["--plane", DEMO] if os.path.exists(DEMO) or not os.path.exists(PLANES) else []
    return ["app", PLANES, *opened, "--short-plan"]


def main(arguments: "list[str]") -> "None":
    """Set up if needed, then run tests or the command."""
    if sys.version_info < OLDEST:
        found = "%d.%d" % sys.version_info[:2]
        sys.exit("start.py: Evenfall needs Python 3.11 or later; this is %s. Get one from python.org." % found)
    testing = "--test" in arguments
    extras = ["test", "develop"] if testing else []
    if not installed(extras):
        install(extras)
    if testing:
        rest = [argument for argument in arguments if argument not in ("--test", "--long")]
        marker = "not reference" if "--long" in arguments else "not reference and not long"
        os.chdir(HERE)
        hand_over([environment_python(), "-m", "pytest", "-n", "2", "-m", marker, *rest])
    else:
        hand_over([environment_python(), "-m", "evenfall", *(arguments or page())])


if __name__ == "__main__":
    try:
        main(sys.argv[1:])
    except KeyboardInterrupt:
        sys.exit(130)
