"""What forerun is made of, for people who keep lists: CycloneDX 1.6 as JSON.

Source: CycloneDX specification, ECMA-424 (2024); names of packages as package URLs (purl).
Read from the locks of this repository; licences and who needs whom from what is installed here, so
they are left out, not guessed, for what is not.
"""

from __future__ import annotations

import base64
import json
import re
import uuid
from importlib import metadata
from pathlib import Path
from typing import Any

__all__ = ["LOCKED", "page_bom", "pins", "python_bom"]

LOCKED = re.compile(r"^([A-Za-z0-9_.-]+)==([^\s;]+)(?:\s*;\s*(.+))?$", re.MULTILINE)
_HASHES = {"sha1": "SHA-1", "sha256": "SHA-256", "sha384": "SHA-384", "sha512": "SHA-512"}


def plain(name: str) -> str:
    """Return a Python package's name as indexes write it."""
    return re.sub(r"[-_.]+", "-", name).lower()


def pins(lock: str) -> dict[str, str]:
    """Return version by name of a file of exact versions."""
    return {plain(name): version for name, version, _ in LOCKED.findall(lock)}


def python_bom(version: str, lock: str) -> dict[str, Any]:
    """Return the list for what `pip install forerun` brings.

    Args:
        version: of forerun.
        lock: text of requirements/run.txt.
    """
    found = pins(lock)
    components = [
        _component(f"pkg:pypi/{name}@{number}", name, number, _licence_here(name, number))
        for name, number in sorted(found.items())
    ]
    root = f"pkg:pypi/forerun@{version}"
    graph = {root: _needs(f"forerun=={version}", found)}
    for name, number in sorted(found.items()):
        graph[f"pkg:pypi/{name}@{number}"] = _needs(f"{name}=={number}", found)
    return _bom("forerun", version, root, components, graph)


def page_bom(version: str, lock: str) -> dict[str, Any]:
    """Return the list for what the page is built with; nothing of it is fetched by a user.

    Args:
        version: of forerun.
        lock: text of web/package-lock.json.
    """
    packages = json.loads(lock)["packages"]
    components, seen = [], set()
    for place, row in sorted(packages.items()):
        if not place:
            continue
        name = place.rpartition("node_modules/")[2]
        purl = f"pkg:npm/{name.replace('@', '%40')}@{row['version']}"
        if purl not in seen:
            seen.add(purl)
            licence = row.get("license")
            components.append(
                {
                    **_component(purl, name, row["version"], licence),
                    **_hashes(row.get("integrity", "")),
                    "scope": "optional" if row.get("optional") else "required",
                }
            )
    root = f"pkg:npm/forerun-page@{version}"
    graph = {root: sorted(seen)}
    return _bom("forerun-page", version, root, components, graph)


def _bom(
    name: str,
    version: str,
    root: str,
    components: list[dict[str, Any]],
    graph: dict[str, list[str]],
) -> dict[str, Any]:
    body = {
        "metadata": {
            "component": {
                "type": "application",
                "bom-ref": root,
                "name": name,
                "version": version,
                "purl": root,
                "licenses": [{"expression": "MIT"}],
            }
        },
        "components": components,
        "dependencies": [{"ref": ref, "dependsOn": needs} for ref, needs in graph.items()],
    }
    # the same list has the same number, so that a release can be made again and compared
    number = uuid.uuid5(uuid.NAMESPACE_URL, json.dumps(body, sort_keys=True))
    head = {"bomFormat": "CycloneDX", "specVersion": "1.6", "serialNumber": f"urn:uuid:{number}"}
    return {**head, "version": 1, **body}


def _component(purl: str, name: str, version: str, licence: str | None) -> dict[str, Any]:
    said = {"licenses": [{"expression": licence}]} if licence else {}
    base = {"type": "library", "bom-ref": purl, "name": name, "version": version, "purl": purl}
    return {**base, **said}


def _hashes(integrity: str) -> dict[str, Any]:
    """Return the checksums of a lock written as Subresource Integrity (W3C)."""
    found = [word.partition("-") for word in integrity.split()]
    rows = [
        {"alg": _HASHES[kind], "content": base64.b64decode(value).hex()}
        for kind, _, value in found
        if kind in _HASHES
    ]
    return {"hashes": rows} if rows else {}


def _installed(pin: str) -> metadata.Distribution | None:
    name, _, version = pin.partition("==")
    try:
        found = metadata.distribution(name)
    except metadata.PackageNotFoundError:
        return None
    return found if found.version == version else None


def _licence_here(name: str, version: str) -> str | None:
    found = _installed(f"{name}=={version}")
    if found is None or "License-Expression" not in found.metadata:
        return None
    return found.metadata["License-Expression"]


def _needs(pin: str, known: dict[str, str]) -> list[str]:
    """Return what an installed package asks for without extras, of what is locked."""
    found = _installed(pin)
    if found is None:
        return []
    wanted = [row for row in found.requires or () if "extra ==" not in row]
    names = {plain(re.match(r"[A-Za-z0-9_.-]+", row)[0]) for row in wanted}  # type: ignore[index]
    return sorted(f"pkg:pypi/{name}@{known[name]}" for name in names if name in known)


def written(bom: dict[str, Any], path: Path) -> Path:
    """Write a list into a file and return its path."""
    path.write_text(json.dumps(bom, indent=1, ensure_ascii=False) + "\n", "utf-8")
    return path
