"""Cuts of power, simulated: what the program wrote and synced is recorded, and a disk is made as a cut would leave it.

The record is of the system calls of the real program (strace, with the data). A cut comes after any of them. What was
written to a file since it was last synced may then be lost, there, or there in part, sector by sector, whatever the
order in which it was written; so may the length of a file, and that it was made, renamed or deleted as long as its
folder was not synced. Memory that is shared between processes (SQLite's -shm) is gone.
"""

import re
import shutil
from dataclasses import dataclass, field
from pathlib import Path

SECTOR = 512  # what a disk writes whole; SQLite counts on no more (sqlite.org/atomiccommit.html, section 3)
CALLS = (
    "openat", "open", "creat", "pwrite64", "write", "writev", "pwritev", "fsync", "fdatasync", "ftruncate", "unlink",
    "unlinkat", "lseek", "rename", "renameat", "renameat2", "fallocate", "copy_file_range", "sendfile",
)
LINE = re.compile(r"^(?:\[pid +)?(\d+)\]? +(\d+\.\d+) (.*)$")
UNFINISHED = re.compile(r"^(.*) <unfinished \.\.\.>$")
RESUMED = re.compile(r"^<\.\.\. \w+ resumed>(.*)$")
PATH = r"\d+<([^>]*)>"


def recorder(record):
    """The command that a program is run by to have its writing recorded in a file."""
    return [
        "strace", "-f", "-qq", "-y", "-ttt", "-xx", "-s", "16777216", "--seccomp-bpf", "-e", "signal=none", "-e",
        "trace=" + ",".join(CALLS), "-o", str(record),
    ]


@dataclass
class File:
    """One file: what of it is surely on the disk, and what was written since."""

    content: bytearray = field(default_factory=bytearray)  # synced
    pending: list = field(default_factory=list)  # (offset, bytes) written, or (length, None) cut or lengthened

    def now(self):
        """Its content as the system shows it."""
        found = bytearray(self.content)
        for at, data in self.pending:
            put(found, at, data)
        return found

    def sync(self):
        self.content, self.pending = self.now(), []

    def after_cut(self, chance):
        """Its content as a cut may leave it: of each sector any of the versions written since the last sync."""
        if not self.pending:
            return bytes(self.content)
        found, luck = bytearray(self.content), chance.choice((0.0, 0.2, 0.5, 0.8, 1.0))
        for at, data in self.pending:
            if data is None:
                if chance.random() < luck:
                    put(found, at, None)
                continue
            for start in range(at - at % SECTOR, at + len(data), SECTOR):
                if chance.random() < luck:
                    first, last = max(start, at), min(start + SECTOR, at + len(data))
                    put(found, first, data[first - at:last - at])
        return bytes(found)


def put(content, at, data):
    """Write into a content, or give it a length where there are no data."""
    if data is None:
        del content[at:]
        content.extend(bytes(at - len(content)))
        return
    content.extend(bytes(max(at - len(content), 0)))
    content[at:at + len(data)] = data


class Recorded:
    """A folder as it was at the start, and all that was done to it after."""

    def __init__(self, record, folder, before):
        self.folder = Path(folder)
        there = [path for path in Path(before).rglob("*") if path.is_file()]
        self.before = {path.relative_to(before): path.read_bytes() for path in there}
        self.steps = [step for step in self._steps(record) if step]

    def _steps(self, record):
        """(time, kind, path, values) of each call that succeeded, in the order in which they ended."""
        begun, offsets = {}, {}
        for line in Path(record).read_text(errors="replace").splitlines():
            pid, at, rest = LINE.match(line).groups()
            if found := UNFINISHED.match(rest):
                begun[pid] = found[1]
                continue
            if found := RESUMED.match(rest):
                rest = begun.pop(pid, "") + found[1]
            yield self._step(float(at), rest, offsets)

    def _inside(self, path):
        """A path within the folder, as far as it is one; bytes come as \\xNN."""
        text = unescaped(path).decode(errors="replace")
        path = Path(text.removesuffix(" (deleted)"))
        if not path.is_relative_to(self.folder) or path.name.endswith("-shm"):
            return None
        return path.relative_to(self.folder)

    def _step(self, at, rest, offsets):
        name, _, words = rest.partition("(")
        result = re.search(r"\) += (-?\d+)(?:<([^>]*)>)?[^=]*$", words)
        if not result or int(result[1]) < 0:
            return None
        texts = re.findall(r'"([^"]*)"', words)
        if name in ("openat", "open", "creat"):
            path = self._inside(result[2] or "")
            offsets[result[2]] = 0
            if path is None or "O_TMPFILE" in words:
                return None
            if "O_CREAT" in words or "O_TRUNC" in words or name == "creat":
                return at, "open", path, "O_TRUNC" in words
            return None
        if name in ("unlink", "unlinkat"):
            path = self._inside(texts[-1])
            return path and (at, "unlink", path, None)
        if name.startswith("rename"):
            path, target = map(self._inside, texts[-2:])
            return path and target and (at, "rename", path, target)
        where = re.match(PATH, words)
        path = where and self._inside(where[1])
        if path is None:
            return None
        if name in ("fsync", "fdatasync"):
            return at, "sync", path, None
        if name == "lseek":
            offsets[where[1]] = int(result[1])
            return None
        if name == "ftruncate":
            return at, "cut", path, int(re.search(r", (\d+)\)", words)[1])
        assert name in ("write", "pwrite64"), f"not foreseen: {rest[:200]}"
        data = unescaped(texts[0])[:int(result[1])]
        if name == "pwrite64":
            return at, "write", path, (int(re.search(r", (\d+)\) +=", words)[1]), data)
        start = offsets.get(where[1], 0)
        offsets[where[1]] = start + len(data)
        return at, "write", path, (start, data)

    def disk_after(self, number, chance, target):
        """Make a folder as a cut of power after so many steps may leave it."""
        files = {path: File(bytearray(content)) for path, content in self.before.items()}
        names = dict(files)  # as folders on the disk have them
        unsure = []  # (folder, change of names) that its folder was not synced for
        for _, kind, path, values in self.steps[:number]:
            if kind == "open":
                if path not in files:
                    files[path] = File()
                    unsure.append((path.parent, path, files[path]))
                elif values:
                    files[path].pending.append((0, None))
            elif kind == "write":
                files[path].pending.append(values)
            elif kind == "cut":
                files[path].pending.append((values, None))
            elif kind == "unlink":
                files.pop(path, None)
                unsure.append((path.parent, path, None))
            elif kind == "rename":
                files[values] = files.pop(path)
                unsure += [(path.parent, path, None), (values.parent, values, files[values])]
            elif path in files:
                files[path].sync()
            else:  # a folder: what its files are called is sure now
                for folder, name, file in unsure:
                    if folder == path:
                        rename(names, name, file)
                unsure = [one for one in unsure if one[0] != path]
        reached = chance.randint(0, len(unsure))  # a journal keeps the order of such changes
        for _, name, file in unsure[:reached]:
            rename(names, name, file)
        for path, file in names.items():
            (target / path).parent.mkdir(parents=True, exist_ok=True)
            (target / path).write_bytes(file.after_cut(chance))
        return target


def rename(names, name, file):
    if file is None:
        names.pop(name, None)
    else:
        names[name] = file


def unescaped(text):
    """The bytes that strace writes as \\xNN."""
    return bytes.fromhex(text.replace("\\x", "")) if text.startswith("\\x") else text.encode()


def is_there():
    return shutil.which("strace") is not None
