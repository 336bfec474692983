"""refdb runs where Python does: what exists on one kind of system alone is not called, unless its want is provided for.

Read from the source, since no other system is at hand. What belongs to which system is as Python's library reference
says under "Availability" (os, signal, subprocess, multiprocessing), which is what each check is held to.
"""

from __future__ import annotations

import ast
import importlib.util
import re
from collections.abc import Iterator
from itertools import pairwise

import pytest
from conftest import ROOT

PACKAGE = ROOT / "refdb"
UNIX_MODULES = {
    *("fcntl", "grp", "posix", "pty", "pwd", "resource", "syslog", "termios", "tty", "curses", "readline"),
    *("msvcrt", "winreg", "winsound", "_winapi"),
}
UNIX_CALLS = {
    "os": {
        *("chown", "chroot", "fchmod", "fchown", "fork", "forkpty", "getegid", "geteuid", "getgid", "getgroups"),
        *("getloadavg", "getpgid", "getpgrp", "getresuid", "getsid", "getuid", "killpg", "lchown", "mkfifo"),
        *("mknod", "nice", "openpty", "posix_fadvise", "posix_fallocate", "posix_spawn", "pread", "pwrite"),
        *("sched_getaffinity", "sched_setaffinity", "sendfile", "setsid", "setuid", "statvfs", "sync", "sysconf"),
        *("system", "uname", "wait", "wait3", "wait4", "WNOHANG", "O_DIRECTORY", "O_NOFOLLOW", "O_SYNC", "startfile"),
        *("O_BINARY", "symlink"),
    },
    "signal": {
        *("SIGALRM", "SIGCHLD", "SIGCONT", "SIGHUP", "SIGKILL", "SIGPIPE", "SIGQUIT", "SIGSTOP", "SIGTSTP", "SIGUSR1"),
        *("SIGUSR2", "SIGWINCH", "alarm", "pause", "pthread_kill", "pthread_sigmask", "setitimer", "sigwait"),
    },
    "socket": {"AF_UNIX", "SO_REUSEPORT", "socketpair"},
    "time": {"tzset", "CLOCK_MONOTONIC", "clock_gettime"},
    "shutil": {"chown"},
}
#: Methods that exist on Unix alone, whatever they are called on.
UNIX_METHODS = {"add_signal_handler", "symlink_to", "hardlink_to", "lchmod", "is_mount"}
UNIX_WORDS = {"preexec_fn", "pass_fds", "start_new_session", "process_group", "dir_fd"}
PACKED = ("gzip.open", "bz2.open", "lzma.open")
PLACES = ("/dev/", "/proc/", "/sys/", "/tmp/", "/etc/", "/usr/", "/bin/", "/var/", "C:\\")
#: A day or an hour without its nought, as only some systems write it.
UNPADDED = re.compile(r"%-[a-zA-Z]")
PROVIDING = {"ImportError", "ModuleNotFoundError", "AttributeError", "OSError", "NotImplementedError", "Exception"}
#: A function that asks one of these has thought of the others.
ASKS = {"os.name", "sys.platform", "hasattr", "getattr", "get_all_start_methods"}


def dotted(node: ast.expr) -> str:
    """The name of a call or an attribute, as it is written."""
    if isinstance(node, ast.Attribute):
        return f"{dotted(node.value)}.{node.attr}"
    return node.id if isinstance(node, ast.Name) else ""


def names(node: ast.expr | None) -> set[str]:
    """Exceptions that are caught or suppressed; a bare except catches all."""
    if node is None:
        return {"Exception"}
    return {dotted(part).rpartition(".")[2] for part in (node.elts if isinstance(node, ast.Tuple) else [node])}


def provided_for(path: list[ast.AST]) -> bool:
    """Whether the last of these nodes, each within the one before, may fail or be absent without harm."""
    for outer, inner in pairwise(path):
        if (
            isinstance(outer, ast.Try)
            and inner in outer.body
            and any(names(h.type) & PROVIDING for h in outer.handlers)
        ):
            return True
        if isinstance(outer, ast.With) and inner in outer.body:
            suppressed = [c.context_expr for c in outer.items if isinstance(c.context_expr, ast.Call)]
            if any(
                dotted(c.func).endswith("suppress") and any(names(a) & PROVIDING for a in c.args) for c in suppressed
            ):
                return True
        if isinstance(outer, ast.FunctionDef) and any(
            dotted(n) in ASKS or (isinstance(n, ast.Attribute) and n.attr in ASKS)
            for n in ast.walk(outer)
            if isinstance(n, ast.Attribute | ast.Name)
        ):
            return True
    return False


def texts(tree: ast.AST) -> Iterator[ast.Constant]:
    """Text that is no docstring."""
    documentation = {
        id(body[0].value)
        for node in ast.walk(tree)
        if isinstance(body := getattr(node, "body", None), list) and body and isinstance(body[0], ast.Expr)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in documentation:
            yield node


def walked(node: ast.AST, path: list[ast.AST]) -> Iterator[list[ast.AST]]:
    """Every node, with those it stands in."""
    path = [*path, node]
    yield path
    for child in ast.iter_child_nodes(node):
        yield from walked(child, path)


def for_reading(call: ast.expr) -> bool:
    """Whether a call opens a file that cannot be written to."""
    if not (isinstance(call, ast.Call) and dotted(call.func).rpartition(".")[2] == "open"):
        return False
    at = 1 if dotted(call.func) in ("open", "io.open") else 0
    modes = [*call.args[at : at + 1]] + [k.value for k in call.keywords if k.arg == "mode"]
    return not modes or (isinstance(modes[0], ast.Constant) and not set("wax+") & set(str(modes[0].value)))


def read_only(handle: ast.expr, function: ast.AST) -> bool:
    """Whether a handle may have been opened for reading alone: none but Unix syncs such a one, or a folder."""
    if isinstance(handle, ast.Call) and dotted(handle.func).endswith(".fileno"):
        name = dotted(handle.func).removesuffix(".fileno")
        nodes = list(ast.walk(function))
        named = [(n.optional_vars, n.context_expr) for n in nodes if isinstance(n, ast.withitem) and n.optional_vars]
        named += [(n.targets[0], n.value) for n in nodes if isinstance(n, ast.Assign)]
        return any(dotted(target) == name and for_reading(value) for target, value in named)
    opened = [
        node.value
        for node in ast.walk(function)
        if isinstance(node, ast.Assign) and isinstance(node.value, ast.Call) and dotted(node.value.func) == "os.open"
    ]
    return not opened or any("O_RDONLY" in ast.dump(call) for call in opened)


def in_the_system_s_encoding(call: ast.Call) -> bool:
    """Whether a call reads or writes text in whatever encoding the system has."""
    name = dotted(call.func).rpartition(".")[2] if isinstance(call.func, ast.Attribute) else dotted(call.func)
    if {k.arg for k in call.keywords} & {"encoding", None}:
        return False
    if name in ("read_text", "write_text"):
        return len(call.args) < (1 if name == "read_text" else 2)
    if name == "TextIOWrapper":
        return len(call.args) < 2
    if name in ("fdopen", "NamedTemporaryFile", "TemporaryFile", "SpooledTemporaryFile") or dotted(call.func) in PACKED:
        modes = [a for a in call.args if isinstance(a, ast.Constant)]
        modes += [k.value for k in call.keywords if k.arg == "mode" and isinstance(k.value, ast.Constant)]
        usual = "r" if name == "fdopen" else "b"
        told = next((str(m.value) for m in modes if re.fullmatch("[rwaxbt+]+", str(m.value))), usual)
        return "t" in told if dotted(call.func) in PACKED else "b" not in told
    if any(
        k.arg in ("text", "universal_newlines") and ast.dump(k.value) == "Constant(value=True)" for k in call.keywords
    ):
        return True
    if name != "open" or dotted(call.func) in ("os.open", "Image.open", "webbrowser.open", "opener.open"):
        return False
    at = 1 if dotted(call.func) in ("open", "io.open") else 0
    modes = [*call.args[at : at + 1]] + [k.value for k in call.keywords if k.arg == "mode"]
    return not modes or (isinstance(modes[0], ast.Constant) and "b" not in str(modes[0].value))


def begun_as_the_system_does(call: ast.Call) -> str:
    """Why a process that a call begins is another on other systems: copied here, begun anew there; "" if it is not."""
    owner, _, name = dotted(call.func).rpartition(".")
    if name not in ("Pool", "Process", "ProcessPoolExecutor", "set_start_method"):
        return ""
    given = [*call.args, *(k.value for k in call.keywords)]
    if any(isinstance(one, ast.Lambda) for one in given):
        return "a lambda, which cannot be handed to a process that is begun anew"
    if name == "ProcessPoolExecutor":
        named = len(call.args) > 1 or any(k.arg == "mp_context" for k in call.keywords)
        return "" if named else "processes begun in the system's own way"
    if name == "set_start_method":
        return "" if "'spawn'" in ast.dump(call) else "processes begun in another way than anew"
    return "processes begun in the system's own way" if owner == "multiprocessing" else ""


class Unaliased(ast.NodeTransformer):
    """A source with its modules under their own names."""

    def __init__(self, tree: ast.AST) -> None:
        imports = [n for n in ast.walk(tree) if isinstance(n, ast.Import)]
        self.names = {a.asname: a.name for n in imports for a in n.names if a.asname}
        taken = [n for n in ast.walk(tree) if isinstance(n, ast.ImportFrom) and n.module == "multiprocessing"]
        self.names |= {a.asname or a.name: f"multiprocessing.{a.name}" for n in taken for a in n.names}

    def visit_Name(self, node: ast.Name) -> ast.Name:
        return ast.copy_location(ast.Name(self.names.get(node.id, node.id), node.ctx), node)


def bound(text: str) -> list[str]:
    """What in a source ties it to one kind of system, with the line."""
    tree = ast.parse(text)
    tree = Unaliased(tree).visit(tree)
    found = [
        f"{c.lineno}: {c.value}"
        for c in texts(tree)
        if f"{c.value}/".startswith(PLACES) or UNPADDED.search(c.value) or c.value == "HOME"
    ]
    for path in walked(tree, []):
        node = path[-1]
        why = ""
        if isinstance(node, ast.Import | ast.ImportFrom):
            modules = [a.name for a in node.names] if isinstance(node, ast.Import) else [node.module or ""]
            why = ", ".join(m for m in modules if m.partition(".")[0] in UNIX_MODULES)
            if isinstance(node, ast.ImportFrom):
                why = why or ", ".join(a.name for a in node.names if a.name in UNIX_CALLS.get(node.module or "", ()))
        elif isinstance(node, ast.Attribute):
            owner = dotted(node.value)
            why = dotted(node) if node.attr in UNIX_CALLS.get(owner, ()) or node.attr in UNIX_METHODS else ""
        elif isinstance(node, ast.keyword) and node.arg in UNIX_WORDS:
            why = node.arg
        elif isinstance(node, ast.Call):
            function = next((n for n in reversed(path) if isinstance(n, ast.FunctionDef)), tree)
            if dotted(node.func) == "os.fsync" and read_only(node.args[0], function):
                why = "os.fsync of what may be open for reading alone"
            elif dotted(node.func) == "os.kill" and dotted(node.args[-1]) != "signal.SIGTERM":
                why = "os.kill, which on Windows ends the process whatever the signal"
            elif dotted(node.func).endswith("get_context") and "'fork'" in ast.dump(node):
                why = "fork"
            elif why := begun_as_the_system_does(node):
                pass
            elif in_the_system_s_encoding(node):
                found.append(f"{node.lineno}: text without an encoding")
        if why and not provided_for(path):
            found.append(f"{getattr(node, 'lineno', node.value.lineno if isinstance(node, ast.keyword) else 0)}: {why}")
    return found


@pytest.mark.parametrize("room", sorted(p.name for p in PACKAGE.iterdir() if p.name != "__pycache__" and p.is_dir()))
def test_no_file_is_bound_to_one_system(room):
    wrong = {
        str(path.relative_to(PACKAGE)): found
        for path in sorted((PACKAGE / room).rglob("*.py"))
        if (found := bound(path.read_text(encoding="utf-8")))
    }
    assert not wrong


def test_no_file_at_the_door_is_bound_to_one_system():
    files = sorted(PACKAGE.glob("*.py"))
    assert len(files) > 3
    assert not {path.name: found for path in files if (found := bound(path.read_text(encoding="utf-8")))}


@pytest.mark.parametrize(
    ("text", "bad"),
    [
        ("import os\nos.fork()", True),
        ("import fcntl", True),
        ("try:\n    import fcntl\nexcept ImportError:\n    fcntl = None", False),
        ("def f():\n    import os\n    return os.getuid()", True),
        ("def f():\n    import os\n    if hasattr(os, 'getuid'):\n        return os.getuid()", False),
        ("import os\ndef f(p):\n    if os.name != 'posix':\n        return\n    os.kill(p, 0)", False),
        ("import os\ndef f(p):\n    os.kill(p, 0)", True),
        ("import os, signal\ndef f(p):\n    os.kill(p, signal.SIGTERM)", False),
        ("import signal\nsignal.signal(signal.SIGTERM, f)", False),
        ("import signal\np.send_signal(signal.SIGKILL)", True),
        ("import subprocess\nsubprocess.run(['x'], preexec_fn=f)", True),
        ("a = open('/dev/null', 'rb')", True),
        ("'''Text of /dev/null.'''\nimport os\na = os.devnull", False),
        ("import os\ndef f(p):\n    h = os.open(p, os.O_RDONLY)\n    os.fsync(h)", True),
        ("import os\ndef f(p):\n    h = os.open(p, os.O_RDWR)\n    os.fsync(h)", False),
        ("import os\ndef f(h):\n    os.fsync(h.fileno())", False),
        (
            "import os\ndef f(p):\n    h = os.open(p, os.O_RDONLY)\n    with suppress(OSError):\n        os.fsync(h)",
            False,
        ),
        ("from multiprocessing import get_context\nget_context('fork')", True),
        ("from multiprocessing import get_context\nget_context('spawn')", False),
        ("import os as o\no.fork()", True),
        ("from os import fork\nfork()", True),
        ("from signal import SIGKILL", True),
        ("from os import replace", False),
        ("a = Path('/tmp')", True),
        ("a = '/tmpfile of a person'", False),
        ("a = f'{day:%-d}'", True),
        ("a = f'{day:%d}'", False),
        ("import os\nos.environ['HOME']", True),
        ("import shutil\nshutil.chown(p, 'a')", True),
        ("import os\ndef f(p):\n    with open(p, 'rb') as h:\n        os.fsync(h.fileno())", True),
        ("import os\ndef f(p):\n    with p.open('r+b') as h:\n        os.fsync(h.fileno())", False),
        ("import multiprocessing\nmultiprocessing.Pool(2)", True),
        ("import multiprocessing as m\nm.Process(target=f).start()", True),
        ("from multiprocessing import Pool\nPool()", True),
        ("import multiprocessing\nmultiprocessing.get_context('spawn').Pool(2)", False),
        ("import multiprocessing\nmultiprocessing.get_context('spawn').Pool(2, lambda: 0)", True),
        ("from concurrent.futures import ProcessPoolExecutor\nProcessPoolExecutor(2)", True),
        ("ProcessPoolExecutor(2, get_context('spawn'), f)", False),
        ("ProcessPoolExecutor(2, mp_context=anew)", False),
        ("multiprocessing.set_start_method('fork')", True),
        ("path.read_text()", True),
        ("subprocess.run(['x'], text=True)", True),
        ("subprocess.run(['x'], text=True, encoding='utf-8')", False),
        ("os.fdopen(h, 'w')", True),
        ("os.fdopen(h, 'wb')", False),
        ("io.TextIOWrapper(b)", True),
        ("io.TextIOWrapper(b, 'utf-8')", False),
        ("tempfile.NamedTemporaryFile('w')", True),
        ("tempfile.NamedTemporaryFile()", False),
        ("gzip.open(p, 'rt')", True),
        ("gzip.open(p)", False),
        ("path.read_text(encoding='utf-8')", False),
        ("path.write_text(t)", True),
        ("path.write_text(t, 'utf-8')", False),
        ("path.open('w')", True),
        ("path.open('rb')", False),
        ("open(path)", True),
        ("open(path, 'wb')", False),
    ],
)
def test_what_is_bound_is_told_from_what_is_not(text, bad):
    assert bool(bound(text)) == bad, bound(text)


def test_the_names_that_are_forbidden_exist():
    """A slip in the list would forbid nothing; what other systems have cannot be looked up here."""
    for module, attributes in UNIX_CALLS.items():
        there = importlib.import_module(module)
        assert len([name for name in attributes if hasattr(there, name)]) > 0.7 * len(attributes), module
    assert sum(importlib.util.find_spec(name) is not None for name in UNIX_MODULES) > 8


NUMBERED_PARAMETER = re.compile(r"\b(?:SELECT|WHERE|VALUES|AND|SET|LIMIT)\b.*\?\d", re.DOTALL)


def numbered_parameters(source: str) -> list[int]:
    """Lines of SQL with parameters such as ?1 in a source."""

    def text(node: ast.AST) -> str:
        if isinstance(node, ast.JoinedStr):
            return "".join(text(part) if isinstance(part, ast.Constant) else "1" for part in node.values)
        return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else ""

    nodes = [n for n in ast.walk(ast.parse(source)) if isinstance(n, ast.Constant | ast.JoinedStr)]
    return sorted({n.lineno for n in nodes if NUMBERED_PARAMETER.search(text(n))})


def test_no_query_numbers_its_parameters():
    """Python 3.12.0 to 3.12.3 warn of ?1 given by place, each time (Python's change log, issue 117995)."""
    found = {str(p): numbered_parameters(p.read_text(encoding="utf-8")) for p in PACKAGE.rglob("*.py")}
    assert {p: lines for p, lines in found.items() if lines} == {}


def test_a_numbered_parameter_is_seen():
    assert numbered_parameters(
        'db.execute("SELECT a FROM b "\n"WHERE c = ?1", x)\nf"WHERE {a} = ?2"\nf"{a} LIMIT ?{n}"'
    ) == [1, 3, 4]
    assert numbered_parameters('"SELECT a FROM b WHERE c = ?"; re.compile("a?1")') == []
