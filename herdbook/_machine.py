"""What the machine must have before Qt may be imported: its system libraries on Linux, and a screen.

Without them Qt ends the program with a message about its own plugins, so both are looked at first and said
in words. Only the standard library, since the set-up uses this too.
"""

from __future__ import annotations

import os
import sys

from herdbook.words import say

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

MANAGERS = {
    "apt": ("apt-get install -y --no-install-recommends", ("debian", "ubuntu")),
    "dnf": ("dnf install", ("fedora", "rhel", "centos")),
    "pacman": ("pacman -S --needed", ("arch",)),
    "zypper": ("zypper install", ("suse", "opensuse")),
}
"""Package manager: its install command, and the families of /etc/os-release that have it."""

# soname: packages by apt, dnf, pacman, zypper. The sonames are those that PySide6-Essentials 6.11.3 is linked
# to (readelf -d on its libraries and plugins). Debian's names were tried on a bare Debian 12; the others are
# from memory.
BASE = {
    "libGL.so.1": ("libgl1", "mesa-libGL", "libglvnd", "Mesa-libGL1"),
    "libEGL.so.1": ("libegl1", "mesa-libEGL", "libglvnd", "Mesa-libEGL1"),
    "libglib-2.0.so.0": ("libglib2.0-0", "glib2", "glib2", "libglib-2_0-0"),
    "libgthread-2.0.so.0": ("libglib2.0-0", "glib2", "glib2", "libgthread-2_0-0"),
    "libdbus-1.so.3": ("libdbus-1-3", "dbus-libs", "dbus", "libdbus-1-3"),
    "libfontconfig.so.1": ("libfontconfig1", "fontconfig", "fontconfig", "fontconfig"),
    "libfreetype.so.6": ("libfreetype6", "freetype", "freetype2", "libfreetype6"),
    "libX11.so.6": ("libx11-6", "libX11", "libx11", "libX11-6"),
    "libxkbcommon.so.0": ("libxkbcommon0", "libxkbcommon", "libxkbcommon", "libxkbcommon0"),
}
X11 = {
    "libX11-xcb.so.1": ("libx11-xcb1", "libX11-xcb", "libx11", "libX11-xcb1"),
    "libxkbcommon-x11.so.0": (
        "libxkbcommon-x11-0",
        "libxkbcommon-x11",
        "libxkbcommon-x11",
        "libxkbcommon-x11-0",
    ),
    "libxcb-cursor.so.0": ("libxcb-cursor0", "xcb-util-cursor", "xcb-util-cursor", "libxcb-cursor0"),
    "libxcb-icccm.so.4": ("libxcb-icccm4", "xcb-util-wm", "xcb-util-wm", "libxcb-icccm4"),
    "libxcb-image.so.0": ("libxcb-image0", "xcb-util-image", "xcb-util-image", "libxcb-image0"),
    "libxcb-keysyms.so.1": ("libxcb-keysyms1", "xcb-util-keysyms", "xcb-util-keysyms", "libxcb-keysyms1"),
    "libxcb-render-util.so.0": (
        "libxcb-render-util0",
        "xcb-util-renderutil",
        "xcb-util-renderutil",
        "libxcb-render-util0",
    ),
    "libxcb-shape.so.0": ("libxcb-shape0", "libxcb", "libxcb", "libxcb-shape0"),
}
WAYLAND = {
    "libwayland-client.so.0": ("libwayland-client0", "libwayland-client", "wayland", "libwayland-client0"),
    "libwayland-cursor.so.0": ("libwayland-cursor0", "libwayland-cursor", "wayland", "libwayland-cursor0"),
    "libwayland-egl.so.1": ("libwayland-egl1", "libwayland-egl", "wayland", "libwayland-egl1"),
}
ALL = {**BASE, **X11, **WAYLAND}


def say_aside(text: str) -> None:
    """Say what is being done on stderr, so that stdout stays the program's own."""
    print("herdbook: " + text, file=sys.stderr, flush=True)


def missing_libraries(wanted: Iterable[str] = tuple(ALL)) -> list[str]:
    """Return those sonames that the system's loader cannot load; none on systems other than Linux."""
    if sys.platform != "linux":
        return []
    import ctypes

    missing = []
    for soname in wanted:
        try:
            ctypes.CDLL(soname)
        except OSError:
            missing.append(soname)
    return missing


def manager(os_release: str) -> str | None:
    """Return which of `MANAGERS` the text of an os-release file calls for, or None."""
    fields = dict(line.split("=", 1) for line in os_release.splitlines() if "=" in line)
    names = " ".join(fields.get(key, "").strip("\"'") for key in ("ID", "ID_LIKE")).lower().split()
    for name, (_, families) in MANAGERS.items():
        if any(word == family or word.startswith(family + "-") for word in names for family in families):
            return name
    return None


def here() -> str | None:
    """Return this system's package manager, or None when it is not one that we know."""
    try:
        with open("/etc/os-release", encoding="utf-8") as file:
            return manager(file.read())
    except OSError:
        return None


def packages(sonames: Iterable[str]) -> dict[str, list[str]]:
    """Return, for each package manager, the packages that hold `sonames`."""
    rows = [ALL[soname] for soname in sonames]
    return {name: sorted({row[column] for row in rows}) for column, name in enumerate(MANAGERS)}


def line_to_run(wanted: Mapping[str, list[str]], name: str | None) -> str:
    """Return the one line that installs `wanted` by the package manager `name`."""
    if name is None:
        return say("(Debian's names of the packages) {packages}", packages=" ".join(wanted["apt"]))
    return ("" if _is_root() else "sudo ") + MANAGERS[name][0] + " " + " ".join(wanted[name])


def _is_root() -> bool:
    return sys.platform != "win32" and os.geteuid() == 0


def provide_packages(wanted: Mapping[str, list[str]]) -> bool:
    """Install `wanted` when we are root on a Debian-like system, else say the line that does it.

    Returns
    -------
    bool
        Whether the packages were installed.
    """
    import subprocess

    name = here()
    line = line_to_run(wanted, name)
    if name != "apt" or not _is_root():
        say_aside(say("this line installs what is missing:") + f"\n\n    {line}\n")
        return False
    say_aside(say("installing system packages: {packages}", packages=" ".join(wanted["apt"])))
    quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    steps = (["apt-get", "update", "-qq"], [*MANAGERS["apt"][0].split(), "-qq", *wanted["apt"]])
    for step in steps:
        if subprocess.run(step, env=quiet, stdout=subprocess.DEVNULL, check=False).returncode:
            say_aside(
                say("that did not work (the reason stands above). Run this line:") + f"\n\n    {line}\n"
            )
            return False
    return True


def provide_libraries(wanted: Iterable[str] = tuple(ALL)) -> bool:
    """See that Qt's system libraries are there; install them or say how, as `provide_packages` does.

    Returns
    -------
    bool
        Whether all of `wanted` can be loaded now.
    """
    missing = missing_libraries(wanted)
    if not missing:
        return True
    say_aside(
        say("the window needs system libraries that are not here: {libraries}", libraries=", ".join(missing))
    )
    return provide_packages(packages(missing)) and not missing_libraries(missing)


def display_problem() -> str | None:
    """Return why no window can be opened here, in words, or None when one can.

    Looks at what Qt will look at: QT_QPA_PLATFORM, then a Wayland or X server that answers. Call it before
    importing Qt.
    """
    if sys.platform != "linux":
        return None
    platform = os.environ.get("QT_QPA_PLATFORM", "").split(":")[0]
    if platform in ("", "xcb", "wayland", "wayland;xcb", "xcb;wayland"):
        x11 = platform != "wayland" and _x_answers()
        wayland = platform != "xcb" and _wayland_answers()
        if not (x11 or wayland):
            return say(
                "There is no screen to open the window on (neither an X nor a Wayland display answers). "
                "Run herdbook from a desktop session. The commands that need no window work here: "
                "herdbook --help"
            )
        wanted = {**BASE, **(WAYLAND if wayland and not missing_libraries(WAYLAND) else X11)}
    else:
        wanted = BASE
    missing = missing_libraries(wanted)
    if not missing:
        return None
    return say(
        "The window needs system libraries that are not here: {libraries}. This line installs them: {line}",
        libraries=", ".join(missing),
        line=line_to_run(packages(missing), here()),
    )


def _wayland_answers() -> bool:
    """Tell whether the Wayland socket named by the environment takes a connection."""
    import socket

    name = os.environ.get("WAYLAND_DISPLAY")
    if not name:
        return False
    path = os.path.join(os.environ.get("XDG_RUNTIME_DIR", ""), name)
    with socket.socket(socket.AF_UNIX) as probe:
        try:
            probe.connect(path)
        except OSError:
            return False
    return True


def _x_answers() -> bool:
    """Tell whether the X server named by DISPLAY lets us in; true when only the asking library is missing."""
    if not os.environ.get("DISPLAY"):
        return False
    import ctypes

    try:
        xcb = ctypes.CDLL("libxcb.so.1")
    except OSError:
        return True
    xcb.xcb_connect.restype = ctypes.c_void_p
    xcb.xcb_connect.argtypes = (ctypes.c_char_p, ctypes.c_void_p)
    xcb.xcb_connection_has_error.argtypes = xcb.xcb_disconnect.argtypes = (ctypes.c_void_p,)
    connection = xcb.xcb_connect(None, None)
    refused = bool(xcb.xcb_connection_has_error(connection))
    xcb.xcb_disconnect(connection)
    return not refused
