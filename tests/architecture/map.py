"""docs/architecture.md names only files, folders and symbols that exist."""
import pathlib
import re
import subprocess
import sys

text = pathlib.Path("docs/architecture.md").read_text()
sources = "\n".join(p.read_text() for f in ("rules", "config", "drivers", "daemon")
                    for p in pathlib.Path(f).rglob("*") if p.suffix in (".h", ".cpp"))
names = set(re.findall(r"`([^`\n]+)`", text))
complaints = []
for name in sorted(names):
    if re.fullmatch(r"[\w./-]+/[\w./-]*", name) and not name.startswith("/"):
        stem = pathlib.Path(name)
        if not (stem.exists() or stem.with_suffix(".h").exists()):
            complaints.append(f"docs/architecture.md: `{name}` does not exist")
    elif re.fullmatch(r"[A-Z]\w+(::\w+)*", name):
        if not re.search(rf"\b{name.split('::')[-1]}\b", sources):
            complaints.append(f"docs/architecture.md: `{name}` is not in the sources")
assert len(names) > 30, "the map names almost nothing"
print("\n".join(complaints) or "map: true")
sys.exit(bool(complaints))
