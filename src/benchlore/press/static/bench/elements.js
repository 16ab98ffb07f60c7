/** Elements of the page, made of plain text only. */

/** The name space of drawings, as the browser knows it: no address stands in the script. */
const SVG = new DOMParser().parseFromString("<svg></svg>", "text/html").querySelector("svg").namespaceURI;

function filled(element, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (value === true) element.setAttribute(name, "");
    else if (value !== false && value !== null && value !== undefined) element.setAttribute(name, value);
  }
  element.append(...children.flat(Infinity).filter((child) => child !== null && child !== ""));
  return element;
}

/** An element with attributes (`onclick` is a listener) and children. */
export const h = (name, attributes = {}, ...children) => filled(document.createElement(name), attributes, children);

/** An element of a drawing. */
export const drawn = (name, attributes = {}, ...children) =>
  filled(document.createElementNS(SVG, name), attributes, children);

/** Each text as an element of its own. */
export const each = (name, texts) => texts.map((text) => h(name, {}, text));

/** A button that does something. */
export const button = (label, onclick, { main = false, extra = null, ...more } = {}) =>
  h("button", { type: "button", class: main ? "main" : null, onclick, ...more }, label, extra ? h("span", { class: "unseen" }, extra) : null);

/** A labelled list to choose from, with a button behind it. */
export function chooser(id, label, options, verb, act) {
  if (options.length === 0) return [];
  const select = h("select", { id }, options.map(([value, text]) => h("option", { value }, text)));
  const onsubmit = (event) => {
    event.preventDefault();
    act(select.value);
  };
  return [h("form", { class: "pick", onsubmit }, h("label", { for: id }, label), select, h("button", {}, verb))];
}

/** A labelled field. */
export function field(id, label, element, hint = "") {
  element.setAttribute("id", id);
  return h("p", {}, h("label", { for: id }, label, hint ? h("span", { class: "hint" }, hint) : null), element);
}

/** Cautions that stand with a step. */
export const cautionsOf = (texts) =>
  texts.length === 0
    ? []
    : [h("div", { class: "caution" }, texts.map((text) => h("p", {}, h("strong", {}, "Caution!"), ` ${text}`)))];

/** Hand a text out as a file. */
export function download(name, type, text) {
  const address = URL.createObjectURL(new Blob([text], { type: `${type};charset=utf-8` }));
  const link = h("a", { href: address, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(address), 10_000);
}
