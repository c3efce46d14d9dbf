"""The demo room with people and a mail server of the test's."""
import json
import pathlib
import re
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1]))
from demo_room import Room, free_port  # noqa: E402, F401

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent))


def set_people(room, people, sections):
    """`people`: {id: text of its map}; `sections`: more top-level text."""
    text = room.site.read_text()
    head = text[:text.index("\npeople:") + 1]
    rest = re.sub(r"\A.*\n(?:  .*\n|\n)*", "", text[len(head):])
    room.site.write_text(head + "people:\n" + "".join(f"  {k}: {v}\n" for k, v in people.items()) + sections + "\n" + rest)


def messages(room):
    return json.loads(room.command("status", "--json").stdout)["messages"]
