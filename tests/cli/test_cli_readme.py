"""The commands that the README shows do what it says when they are typed one after the other."""

import re
import shlex
from pathlib import Path

README = Path(__file__).parents[2] / "README.md"
JOBS = ("3 ohm;0.2 ohm;Capacitor C5 shorted;replace-c5;repaired", "2k2;OL;Fuse F1 open;replace-f1;repaired")


def blocks():
    """The commands of each block below "Your own board", without their remarks."""
    text = README.read_text(encoding="utf-8").partition("## Your own board")[2].partition("\n## ")[0]
    return [
        [shlex.split(line.removeprefix("$ "), comments=True) for line in block.splitlines()]
        for block in re.findall(r"```console\n(.*?)```", text, re.DOTALL)
    ]


def typed(run, monkeypatch, words):
    """Run what was typed at a prompt; what goes into a file, as the shell puts it there."""
    if words[0] == "cd":
        monkeypatch.chdir(words[1])
        return
    assert words[0] == "benchlore"
    words, _, target = (words[1:-2], ">", words[-1]) if words[-2] == ">" else (words[1:], "", "")
    ran = run(*words)
    assert ran.code == 0, (words, ran.err)
    if target:
        Path(target).write_text(ran.out, encoding="utf-8")


def test_the_readme_can_be_followed_from_an_empty_folder(run, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    first, with_jobs = blocks()
    assert first.pop(0) == [".", ".venv/bin/activate"]
    for words in first:
        typed(run, monkeypatch, words)
    rows = [f"{k};2026-02-{k:02};{JOBS[k % 2]}" for k in range(1, 25)]
    head = "Job;Date;Main rail to ground;Fuse F1;Fault;Fix;Outcome"
    Path("jobs.xlsx").write_text(
        "\n".join([head, *rows, ""]), encoding="utf-8"
    )  # its content says what it is
    for words in with_jobs:
        typed(run, monkeypatch, words)
    assert Path("proof.html").exists()
