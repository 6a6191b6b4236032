"""Zip files with a manifest: each file in them has its size and SHA-256 written down."""

import hashlib
import json
import os
import zipfile
import zlib
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, BinaryIO, Self

from outshop import __version__
from outshop.errors import ArchiveError, InputError, StoreError
from outshop.records import store

MANIFEST = "manifest.json"
LARGEST_MANIFEST = 256 * 1024**2  # bytes: a million files need about a hundred million
LARGEST_RECORDS = 4 * 1024**3  # bytes of one JSON file
# what zipfile raises at a damaged archive
DAMAGE = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError)


@dataclass
class ZipWriter:
    """Write an archive beside its final name; it gets that name when it is whole."""

    path: Path
    kind: str
    version: int
    facts: dict[str, Any] = field(default_factory=dict)
    files: list[dict[str, Any]] = field(default_factory=list)

    def __enter__(self) -> Self:
        """Open the temporary file."""
        self._part = self.path.with_name(self.path.name + ".part")
        try:
            self._zip = zipfile.ZipFile(self._part, "w", allowZip64=True)
        except OSError as problem:
            message = f"{self.path} cannot be written: {problem.strerror}"
            raise InputError(message) from problem
        return self

    def add_file(self, name: str, source: BinaryIO, *, packed: bool = False) -> str:
        """Add a file and give its checksum; recordings and photos do not pack any smaller."""
        digest, size = hashlib.sha256(), 0
        info = zipfile.ZipInfo(name, datetime.now(UTC).timetuple()[:6])
        info.compress_type = zipfile.ZIP_DEFLATED if packed else zipfile.ZIP_STORED
        info.external_attr = 0o600 << 16
        with self._zip.open(info, "w", force_zip64=True) as target:
            while chunk := source.read(store.CHUNK):
                digest.update(chunk)
                size += len(chunk)
                target.write(chunk)
        self.files.append({"name": name, "size": size, "sha256": digest.hexdigest()})
        return digest.hexdigest()

    def __exit__(self, kind: type[BaseException] | None, problem: object, trace: object) -> None:
        """Write the manifest and give the file its name, or throw it away."""
        try:
            if kind is None:
                self._finish()
            else:
                self._zip.close()
        except OSError as full:
            raise store.as_store_error(full) or full from full
        finally:
            self._part.unlink(missing_ok=True)
        if isinstance(problem, OSError):
            raise store.as_store_error(problem) or problem from problem

    def _finish(self) -> None:
        manifest = {
            "format": self.kind,
            "format_version": self.version,
            "program": f"outshop {__version__}",
            "made_at": datetime.now(UTC).isoformat(timespec="seconds"),
            **self.facts,
            "files": self.files,
        }
        self._zip.writestr(MANIFEST, json.dumps(manifest, indent=1), zipfile.ZIP_DEFLATED)
        self._zip.close()
        with self._part.open("rb+") as file:
            os.fsync(file.fileno())
        self._part.replace(self.path)
        store.flush_folder(self.path.absolute().parent)


@dataclass(frozen=True)
class ZipReader:
    """An archive whose manifest was read and found sound."""

    path: Path
    manifest: Mapping[str, Any]
    sizes: Mapping[str, int]
    checksums: Mapping[str, str]
    _zip: zipfile.ZipFile

    def names(self, folder: str) -> list[str]:
        """Give the files below a folder."""
        return [name for name in self.sizes if name.startswith(folder)]

    def copy(self, name: str, write: Callable[[bytes], object]) -> None:
        """Hand a file over in pieces, and raise ArchiveError if it is not what was packed."""
        if name not in self.sizes:
            message = f"{self.path.name} lacks {name}: it is damaged or incomplete"
            raise ArchiveError(message)
        digest, left = hashlib.sha256(), self.sizes[name]
        try:
            with self._zip.open(name) as source:
                while chunk := source.read(store.CHUNK):
                    left -= len(chunk)
                    if left < 0:
                        break
                    digest.update(chunk)
                    write(chunk)
        except DAMAGE as problem:
            message = f"{self.path.name} is damaged at {name}: use another copy of it"
            raise ArchiveError(message) from problem
        if left != 0 or digest.hexdigest() != self.checksums[name]:
            message = f"{self.path.name} is damaged at {name}: use another copy of it"
            raise ArchiveError(message)

    def read_json(self, name: str) -> Any:
        """Read one JSON file."""
        if self.sizes.get(name, 0) > LARGEST_RECORDS:
            message = f"{name} in {self.path.name} is too large to read"
            raise ArchiveError(message)
        data = bytearray()
        self.copy(name, data.extend)
        return _json(bytes(data), f"{name} in {self.path.name}")


@contextmanager
def read_zip(path: Path, *, kind: str, version: int) -> Iterator[ZipReader]:
    """Open an archive of ``kind`` written up to format ``version``.

    Raises
    ------
    ArchiveError
        It is damaged, of another kind, or from a newer version.
    """
    try:
        with zipfile.ZipFile(path) as packed:
            yield _checked(path, packed, kind, version)
    except zipfile.BadZipFile as problem:
        message = f"{path.name} is no {kind} or is cut short: choose the file again"
        raise ArchiveError(message) from problem
    except OSError as problem:
        store_error = store.as_store_error(problem)
        message = f"{path} cannot be read: {problem.strerror}"
        raise store_error or StoreError(message) from problem


def _checked(path: Path, packed: zipfile.ZipFile, kind: str, version: int) -> ZipReader:
    infos = {info.filename: info for info in packed.infolist()}
    if MANIFEST not in infos or infos[MANIFEST].file_size > LARGEST_MANIFEST:
        message = f"{path.name} is no {kind}: it holds no {MANIFEST}"
        raise ArchiveError(message)
    try:
        manifest = _json(packed.read(MANIFEST), f"{MANIFEST} in {path.name}")
        found, written = manifest["format"], int(manifest["format_version"])
        if found != kind:
            message = f"{path.name} is of kind {found}, but a file of kind {kind} is wanted here"
            raise ArchiveError(message)
        if written > version:
            message = (
                f"{path.name} comes from a newer Outshop (format {written}; this one reads up to "
                f"{version}): update Outshop first"
            )
            raise ArchiveError(message)
        sizes = {str(f["name"]): int(f["size"]) for f in manifest["files"]}
        checksums = {str(f["name"]): str(f["sha256"]) for f in manifest["files"]}
    except (*DAMAGE, KeyError, TypeError) as problem:
        message = f"the {MANIFEST} in {path.name} is damaged: use another copy of the file"
        raise ArchiveError(message) from problem
    for name, size in sizes.items():
        if name not in infos or infos[name].file_size != size:
            message = f"{path.name} is damaged: {name} is missing or cut short"
            raise ArchiveError(message)
    return ZipReader(path, manifest, sizes, checksums, packed)


def refuse_existing(path: Path, *, replace: bool) -> None:
    """Raise InputError when ``path`` is there already and shall not be replaced."""
    if path.is_dir():
        message = f"{path} is a folder: name a file in it"
        raise InputError(message)
    if path.exists() and not replace:
        message = f"{path} is there already: choose another name, or say --replace"
        raise InputError(message)


def _json(data: bytes, where: str) -> Any:
    try:
        return json.loads(data)
    except ValueError as problem:  # also text that is no UTF-8
        message = f"{where} is damaged: it is no JSON"
        raise ArchiveError(message) from problem
