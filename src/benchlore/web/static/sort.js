// Sort the rows of a table by a column, on a telephone too, where the table has no visible head.
const figure = (text) => {
  const found = text.replace(/[,\u00a0\u2009]/g, "").match(/-?\d+(\.\d+)?/);
  return found ? Number(found[0]) : null;
};

const told = (cell) => (cell ? cell.textContent.trim() : "");

function compare(place, isNumber, down) {
  return (one, other) => {
    const [a, b] = [told(one.cells[place]), told(other.cells[place])];
    if (!isNumber) return (down ? -1 : 1) * a.localeCompare(b, "en");
    const [x, y] = [figure(a), figure(b)];
    if (x === null || y === null) return (x === null) - (y === null);
    return down ? y - x : x - y;
  };
}

function choices(heads) {
  return heads.flatMap((head, place) => {
    const isNumber = head.classList.contains("number");
    const name = told(head);
    return isNumber
      ? [[place, true, true, `${name}, most first`], [place, true, false, `${name}, least first`]]
      : [[place, false, false, name]];
  });
}

function offer(table, number) {
  const body = table.tBodies[0];
  const rows = [...body.rows];
  if (rows.length < 3) return;
  const options = choices([...table.tHead.rows[0].cells]);
  const line = document.createElement("p");
  line.className = "sorting noprint";
  const label = document.createElement("label");
  label.htmlFor = `sort-${number}`;
  label.textContent = "Sorted by";
  const select = document.createElement("select");
  select.id = label.htmlFor;
  select.add(new Option("the order as it came", ""));
  options.forEach((each, k) => select.add(new Option(each[3], k)));
  select.addEventListener("change", () => {
    const sorted = select.value === "" ? rows : [...rows].sort(compare(...options[Number(select.value)]));
    body.append(...sorted);
  });
  line.append(label, select);
  (table.closest(".scroll") || table).before(line);
}

document.querySelectorAll("main table").forEach(offer);
