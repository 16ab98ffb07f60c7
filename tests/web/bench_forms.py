"""The bench as a browser without scripts sees it: its pages' own forms are read and sent."""

from html.parser import HTMLParser

from benchlore.library import init_library

FELL = """\
  fell:
    title: Did it fall?
    reads: input
    how: Ask.
    results: [dropped, not-dropped]
    takes: 0 min
    shows: {open: {dropped: 70 %}, normal: {dropped: 20 %}}
  look:
    title: Look at U2
    reads: main-rail
    how: With a loupe.
    picture: {file: top.svg, at: [40, 30]}
    results: [burnt, clean]
    takes: 1 min
    needs: [case-open]
    shows: {missing: {burnt: 60 %}, normal: {burnt: 1 %}, shorted: {burnt: 20 %}}

# Root causes."""

RESTARTS = """
  restarts:
    title: Restarts by itself
    intermittent: {about every: 20 min}
    retest: {how: "Load pattern.", takes: 3 min, soak: 60 min, cautions: [lithium]}
    worth: 120
    seen: {boards: 20, faults: {c5-short: 9, u2-dead: 6, f1-open: 4}}
"""
TOP = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 200 100"><rect width="200" height="100"/></svg>'


def bench_library(folder):
    """The first fault book, with a fact for the start, a check on a picture, and a complaint that comes and goes."""
    library = init_library(folder, title="Quay bench", board="my-board")
    book = library.book_file("my-board")
    text = book.read_text(encoding="utf-8").replace("\n# Root causes.", FELL, 1) + RESTARTS
    book.write_text(text, encoding="utf-8")
    (book.parent / "top.svg").write_text(TOP, encoding="utf-8")
    return library


class Reader(HTMLParser):
    """Forms with their fields, and the text of a page."""

    def __init__(self):
        super().__init__()
        self.forms, self.words, self.tags = [], [], []
        self.inside = self.select = self.button = self.area = None

    def handle_starttag(self, tag, attrs):
        found = {name: value if value is not None else "" for name, value in attrs}
        self.tags.append((tag, found))
        if tag == "form":
            self.inside = {
                "action": found["action"],
                "method": found.get("method"),
                "fields": {},
                "label": "",
            }
            self.forms.append(self.inside)
        if self.inside is None:
            return
        fields = self.inside["fields"]
        if tag == "input":
            fields[found["name"]] = found.get("value", "")
        elif tag == "select":
            self.select = found["name"]
            fields.setdefault(self.select, None)
        elif tag == "option" and self.select and (fields[self.select] is None or "selected" in found):
            fields[self.select] = found.get("value")
        elif tag == "textarea":
            self.area = found["name"]
            fields[self.area] = ""
        self.button = tag == "button" or (self.button and tag == "span")

    def handle_endtag(self, tag):
        if tag == "form":
            self.inside = None
        elif tag == "select":
            self.select = None
        elif tag == "textarea":
            self.area = None
        elif tag == "button":
            self.button = None

    def handle_data(self, data):
        self.words.append(data)
        if self.inside is not None and self.button:
            self.inside["label"] += data
        if self.inside is not None and self.area:
            self.inside["fields"][self.area] += data
        elif self.inside is not None and self.select and self.inside["fields"][self.select] is None:
            self.inside["fields"][self.select] = data


def read(answer):
    reader = Reader()
    reader.feed(answer.text)
    return reader


def words(answer):
    """The text of a page, blanks made one."""
    return " ".join(" ".join(read(answer).words).split())


class Visitor:
    """Somebody at the bench who sends the forms of the last page."""

    def __init__(self, client):
        self.client = client
        self.page = None

    def go(self, address):
        self.page = self.client.get(address)
        return self.page

    def form(self, label):
        found = [form for form in read(self.page).forms if form["label"].strip() == label]
        assert found, f"no form has a button {label!r}: {[form['label'] for form in read(self.page).forms]}"
        return found[0]

    def press(self, label, /, **fields):
        """Fill the form of a button and send it; redirects are followed."""
        form = self.form(label)
        strange = set(fields) - set(form["fields"])
        assert not strange, f"the form has no {strange}"
        data = {**form["fields"], **fields}
        if form["method"] == "post":
            self.page = self.client.post(form["action"], data=data)
        else:
            self.page = self.client.get(form["action"], params=data)
        return self.page

    def start(self, complaint="no-power", **fields):
        self.go(f"/bench/start?board=my-board&complaint={complaint}")
        return self.press("Start", **{"clock": "stopped"} | fields)

    @property
    def key(self):
        return self.page.url.path.split("/")[2]

    @property
    def text(self):
        return words(self.page)

    def reading(self, check, text):
        """Enter a reading of any check, through its card."""
        self.go(f"/bench/{self.key}?check={check}")
        return self.press("Enter", text=text)

    def fix(self, name):
        self.go(f"/bench/{self.key}?fix={name}")
        return self.press("The fix is done")
