"""A small library to be published: a proven board, one whose book is hostile, one whose book is refused."""

from datetime import UTC, datetime

from benchlore.jobs import Store
from benchlore.library import init_library, prove_complaint
from benchlore.press.site import press_site
from benchlore.proof import Settings
from finished_jobs import finished_jobs

NOW = datetime(2026, 3, 1, 12, tzinfo=UTC)
LATER = datetime(2026, 4, 1, 12, tzinfo=UTC)
EVIL = "</script><script>alert(1)</script><img src=x onerror=alert(2)> & \\u2028"
PICTURE = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 400 300" onload="alert(3)"><script>alert(3)</script><rect width="400" height="300" fill="#fff"/></svg>'


def hostile(text):
    """The first book with an attack in every text, with a picture, and with a jumper."""
    for old in (
        "An example device",
        "Does not switch on",
        "Main rail to ground",
        "Capacitor C5 shorted",
        "Your name",
    ):
        text = text.replace(old, f"'{old} {EVIL}'")
    text = text.replace("notes: Cracks when", f"notes: {EVIL} Cracks when")
    text = text.replace(
        "    measures: resistance\n",
        '    picture: {file: "top side.svg", at: [120, 80]}\n    measures: resistance\n',
        1,
    )
    return text.replace(
        "  replace-f1:\n",
        f"  replace-f1:\n    wire: {{from: 'pad 1 {EVIL}', to: TP7, carries: 20 mA, may drop: 5 mV}}\n",
    )


SOURCE = "https://handbook.example/ohm"
SKILL = f"""---
skill: 1
title: 'Measuring {EVIL.replace("'", "")}'
licence: CC-BY-SA-4.0
sources:
  - {{title: A handbook, address: "{SOURCE}"}}
people:
  ines: {{name: Ines Okafor, roles: [writing], orcid: 0000-0002-1825-0097}}
hazards: [mains]
---

## Main

Read {EVIL} and [the other page](zero.md#main), or [here](#main).
"""


def make_library(folder):
    """Make the library; the board ``my-board`` has jobs, a procedure and a proof."""
    library = init_library(folder, title="Quay bench & friends", board="my-board")
    book = library.book_file("my-board").read_text()
    for board, text in (
        ("harbour-3", hostile(book)),
        ("broken", book.replace("takes: 5 min", "takes: soon")),
    ):
        (library.books / board).mkdir()
        (library.books / board / "book.yaml").write_text(text)
    (library.books / "harbour-3" / "top side.svg").write_text(PICTURE)
    library.skills.mkdir(exist_ok=True)
    (library.skills / "ohms.md").write_text(SKILL.replace("#main)", "#main-2)"))
    (library.skills / "zero.md").write_text(SKILL.replace("#main)", "#main-2)").replace("zero.md", "ohms.md"))
    (library.skills / "broken.md").write_text("## No head\n")
    with Store.open(library.store) as store:
        store.add(finished_jobs(18))
    prove_complaint(library, "my-board", "no-power", settings=Settings(folds=2, draws=2), workers=1)
    return library


def press(library, out, **options):
    """Press in this process, at a set time."""
    return press_site(library, out, **{"now": NOW, "workers": 1, **options})


def files_in(out):
    """Every file of a site but what it knows of itself."""
    return {
        path.relative_to(out).as_posix(): path.read_bytes()
        for path in sorted(out.rglob("*"))
        if path.is_file() and ".press" not in path.parts
    }
