"""Every tests/**/*_test.cpp is compiled, and asserts something."""
import json
import pathlib
import re
import sys

compiled = {pathlib.Path(entry["file"]).resolve() for entry in json.load(open(sys.argv[1]))}
complaints = []
for path in sorted(pathlib.Path("tests").rglob("*_test.cpp")):
    text = path.read_text()
    if path.resolve() not in compiled:
        complaints.append(f"{path}: not part of any test program")
    if not re.search(r"\b(CHECK|REQUIRE)", text):
        complaints.append(f"{path}: asserts nothing")
    for name in re.findall(r'TEST_CASE\("([^"]*)"', text):
        if ";" in name:
            complaints.append(f"{path}: a semicolon in '{name}' makes the runner skip it")
print("\n".join(complaints) or "tests: none orphaned")
sys.exit(bool(complaints))
