"""Includes point one way: rules <- config <- drivers <- daemon; heavy and worldly headers stay where they belong."""
import pathlib
import re
import sys

ALLOWED = {"rules": {"rules"}, "config": {"rules", "config"}, "drivers": {"rules", "config", "drivers"},
           "daemon": {"rules", "config", "drivers", "daemon"}}
WORLDLY = re.compile(r"<(chrono>.*now|fstream|iostream|filesystem|thread|mutex|atomic|condition_variable|random|cstdio|"
                     r"ctime|sys/.*|unistd\.h|sqlite3\.h|spdlog/.*|yaml-cpp/.*|nlohmann/.*|modbus.*|mqtt/.*|boost/asio.*|"
                     r"unordered_map|unordered_set|regex|future)>")
HEAVY_IN_HEADERS = re.compile(r"<(nlohmann/json\.hpp|CLI/.*|yaml-cpp/.*|Eigen/.*|boost/beast.*|boost/math.*)>")
INCLUDE = re.compile(r'^\s*#\s*include\s+(?:"([^"]+)"|(<[^>]+>))')

complaints = []
for folder, may in ALLOWED.items():
    for path in sorted(pathlib.Path(folder).rglob("*")):
        if path.suffix not in (".h", ".cpp"):
            continue
        for number, line in enumerate(path.read_text().splitlines(), 1):
            found = INCLUDE.match(line)
            if not found:
                continue
            own, system = found.groups()
            where = f"{path}:{number}: "
            if own and own.split("/")[0] not in may:
                complaints.append(where + f"{folder}/ may not include {own}")
            if own and folder == "drivers" and path.parts[1] == "plant" and own.startswith("rules/") and own not in {
                    f"rules/{name}.h" for name in
                    ("site", "ids", "reading", "time", "quantities", "units", "effect", "input")}:
                complaints.append(where + f"the simulated room has its own physics, it may not include {own}")
            if system and folder == "rules" and WORLDLY.match(system):
                complaints.append(where + f"the core may not include {system}")
            if system and folder != "config" and system.startswith("<yaml-cpp/"):
                complaints.append(where + "yaml-cpp is seen in config/load/ only")
            if system and path.suffix == ".h" and HEAVY_IN_HEADERS.match(system):
                complaints.append(where + f"{system} belongs in a .cpp file")
print("\n".join(complaints) or "includes: clean")
sys.exit(bool(complaints))
