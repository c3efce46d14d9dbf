#!/usr/bin/env python3
"""Every rule of rules/judge/all_rules.h has its page in docs/rules/ with the agreed headings, the page
lists every parameter of the rule, and no page is left without a rule."""
import pathlib
import re
import sys

HEADINGS = ["What it watches", "When it alarms", "Parameters", "Formula and source", "When it cannot tell",
            "Worked example", "On site"]


def main(root: pathlib.Path) -> int:
    faults = []
    listed = re.findall(r'#include "rules/judge/(\w+)\.h"', (root / "rules/judge/all_rules.h").read_text())
    for rule in listed:
        page = root / "docs/rules" / f"{rule}.md"
        header = (root / "rules/judge" / f"{rule}.h").read_text()
        name = re.search(r'RuleInfo info\{"(\w+)"', header)
        if not name or name.group(1) != rule:
            faults.append(f"rules/judge/{rule}.h: RuleInfo must carry the file's name, {rule}")
        if not page.exists():
            faults.append(f"{rule}: docs/rules/{rule}.md is missing")
            continue
        text = page.read_text()
        headings = re.findall(r"^## (.+)$", text, re.M)
        if headings != HEADINGS:
            faults.append(f"{page.name}: headings are {headings}, wanted {HEADINGS}")
        for key in re.findall(r'\{"(\w+)", ParamKind::', header):
            if f"`{key}`" not in text:
                faults.append(f"{page.name}: parameter `{key}` is not described")
    for page in sorted((root / "docs/rules").glob("*.md")):
        if page.stem != "README" and page.stem not in listed:
            faults.append(f"docs/rules/{page.name}: no such rule")
    if not listed:
        faults.append("rules/judge/all_rules.h lists no rule")
    print("\n".join(faults) if faults else f"{len(listed)} rules, each with its page")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main(pathlib.Path(sys.argv[1])))
