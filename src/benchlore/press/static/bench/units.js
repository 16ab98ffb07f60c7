/**
 * Readings as technicians write them, and back: `benchlore.units`, with the spellings that it gives.
 *
 * A unit's spellings lead to a power of ten, or to a factor and an offset.
 */

const LONGEST = 200;
const NUMBER = /^([+-]? ?(?:[0-9](?:[0-9.,' ]*[0-9])?[.,]?|[.,][0-9]+)(?:[eE][+-]?[0-9]+)?)(.*)$/;
const CODE = /^([+-]?)([0-9]*)([A-Za-z]|ohm)([0-9]+) ?([A-Za-z]*)$/;
const OVER_RANGE = /^\+?(?:[o0]l|overload|overrange|outofrange|∞|infinite|infinity)(.*)$/i;
const OPEN = /^open(?:circuit)?(.*)$/i;
const SHORT = /^short(?:ed|circuit)?(.*)$/i;
const REPLACED = [
  [/[\u200b\ufeff]/g, ""],
  [/[−‐‑‒–—]/g, "-"],
  [/’/g, "'"],
  [/[µμ]/g, "u"],
  [/[Ω\u2126ω]/g, "ohm"],
  [/\u212a/g, "K"],
  [/[º˚]/g, "°"],
  [/\u2103/g, "°C"],
  [/\u2109/g, "°F"],
];
const POWERS = { f: -15, p: -12, n: -9, u: -6, m: -3, k: 3, M: 6, G: 9, T: 12 };

/** A text that is no reading; the message says what would be. */
export class ReadingError extends Error {}

const normalised = (text) =>
  REPLACED.reduce((plain, [from, to]) => plain.replace(from, to), text).split(/\s+/).filter(Boolean).join(" ");

const folded = (spelling) =>
  /^m/i.test(spelling) ? spelling[0] + spelling.slice(1).toLowerCase() : spelling.toLowerCase();

const own = (table, key) => (Object.hasOwn(table, key) ? table[key] : undefined);

/** What a meter showed, in the SI unit; over range is `Infinity`. `spelt` are the measure's spellings. */
export function readingOf(text, measure, spelt) {
  const plain = normalised(text);
  const refuse = (what) => new ReadingError(`${what}: write ${measure} as ${spelt.example}`);
  if (plain === "") throw refuse("nothing");
  if (plain.length > LONGEST) throw refuse("too long");
  const word = plain.replace(/[ .]/g, "");
  const isOhms = measure === "resistance";
  const words = [
    [OVER_RANGE, Infinity, measure !== "count"],
    [OPEN, Infinity, isOhms || measure === "diode drop"],
    [SHORT, 0, isOhms],
  ];
  for (const [pattern, value, fits] of words) {
    const match = pattern.exec(word);
    if (match === null) continue;
    if (!fits) throw refuse(`'${text}' is no ${measure}`);
    if (match[1] !== "" && scaleOf(match[1], spelt) === undefined) throw refuse(`unknown unit '${match[1]}'`);
    return value;
  }
  return quantityOf(plain, text, spelt, refuse);
}

function quantityOf(plain, text, spelt, refuse) {
  const code = CODE.exec(plain);
  if (code !== null && code[3] !== "e" && code[3] !== "E") {
    const [, sign, whole, letter, fraction, unit] = code;
    const scale = own(spelt.code, letter) ?? own(spelt.code, letter.toLowerCase()) ?? (letter === "ohm" ? 0 : undefined);
    if (scale === undefined || (unit !== "" && scaleOf(unit, spelt) !== 0)) throw refuse(`'${text}' is not understood`);
    return possible(applied(`${sign}${whole || "0"}.${fraction}`, scale), text, spelt, refuse);
  }
  const match = NUMBER.exec(plain);
  if (match === null) throw refuse(`'${text}' is not understood`);
  const number = plainNumber(match[1], refuse, text);
  const unit = match[2].trim();
  const scale = unit === "" ? 0 : scaleOf(unit, spelt);
  if (scale === undefined) throw refuse(`unknown unit '${unit}'`);
  return possible(applied(number, scale), text, spelt, refuse);
}

/** Refuses what no meter can have measured. */
function possible(value, text, spelt, refuse) {
  if (!(Math.abs(value) <= spelt.most)) throw refuse("too large a number");
  if (value >= spelt.lowest) return value;
  const why = spelt.symbol === "ohm" ? ", a meter shows that while the board has voltage" : "";
  throw refuse(`'${text}' is less than there can be${why}`);
}

function scaleOf(unit, spelt) {
  const written = unit.replaceAll(" ", "").replace(/\.+$/, "");
  return own(spelt.exact, written) ?? forgiven(written, spelt) ?? own(spelt.worded, written.toLowerCase());
}

/** What a spelling in the wrong letter case means; where several could be meant, the last. */
function forgiven(written, spelt) {
  const wanted = folded(written);
  if (spelt.refused.includes(wanted)) return undefined;
  return Object.entries(spelt.exact).filter(([spelling]) => folded(spelling) === wanted).at(-1)?.[1];
}

/** The SI value; a power of ten moves the decimal point, so that 4.7 kohm is just 4700. */
function applied(number, scale) {
  // Fifteen digits undo what the machine adds to 358 − 273.15.
  if (Array.isArray(scale)) return Number((Number(number) * scale[0] + scale[1]).toPrecision(15));
  const [mantissa, exponent = "0"] = number.toLowerCase().split("e");
  return Number(`${mantissa}e${Number(exponent) + scale}`);
}

/** Digits with at most one point, deciding which marks group and which one is decimal. */
function plainNumber(written, refuse, text) {
  const [mantissa, ...exponent] = written.split(/[eE]/);
  const sign = mantissa.startsWith("-") ? "-" : "";
  const body = plainBody(mantissa.replace(/^[+\- ]+/, ""), refuse, text, "either");
  return [sign + body, ...exponent].join("e");
}

const isGrouped = (body, mark) => new RegExp(`^[1-9][0-9]{0,2}(?:[${mark}][0-9]{3})+$`).test(body);

function plainBody(body, refuse, text, decimal) {
  for (const mark of ["'", " "]) {
    if (!body.includes(mark)) continue;
    const place = body.search(/[.,]/);
    const whole = place < 0 ? body : body.slice(0, place);
    const rest = place < 0 ? "" : body.slice(place);
    if (!isGrouped(whole, mark) || rest.includes(mark)) throw refuse(`'${text}' has a stray mark`);
    return plainBody(whole.replaceAll(mark, "") + rest, refuse, text, rest.startsWith(".") ? "point" : "comma");
  }
  const marks = [".", ","].filter((mark) => body.includes(mark));
  if (marks.length === 2) {
    const point = body.lastIndexOf(".") > body.lastIndexOf(",") ? "." : ",";
    const place = body.lastIndexOf(point);
    const whole = body.slice(0, place);
    const group = point === "." ? "," : ".";
    if (whole.includes(point) || !isGrouped(whole, group)) throw refuse(`'${text}' has unclear marks`);
    return `${whole.replaceAll(group, "")}.${body.slice(place + 1)}`;
  }
  return marks.length === 0 ? body : oneMark(body, marks[0], refuse, text, decimal);
}

function oneMark(body, mark, refuse, text, decimal) {
  const count = body.split(mark).length - 1;
  if (isGrouped(body, mark)) {
    const named = mark === "," ? "comma" : "point";
    if (count > 1 || (decimal !== "either" && decimal !== named)) return body.replaceAll(mark, "");
    if (decimal === "either" && mark === ",") {
      throw refuse(`an unclear comma in '${text}', write ${body.replace(",", ".")} or ${body.replace(",", "")}`);
    }
  }
  if (count > 1) throw refuse(`'${text}' has too many marks`);
  return body.replace(",", ".");
}

/** An SI value with an engineering prefix, to three digits: `4.2 kohm`, `OL`. */
export function quantityText(value, measure, spelt) {
  if (value === Infinity) return "OL";
  if (measure === "count" && Number.isInteger(value)) return String(value);
  const [mantissa, exponent] = value.toExponential(2).split("e");
  const prefixes = new Map([[0, ""], ...[...spelt.prefixes].map((prefix) => [POWERS[prefix], prefix])]);
  const powers = [...prefixes.keys()];
  const wanted = value === 0 ? 0 : Math.floor(Number(exponent) / 3) * 3;
  const power = Math.min(Math.max(wanted, Math.min(...powers)), Math.max(...powers));
  if (Math.abs(wanted - power) > 3) return `${Number(mantissa)}e${exponent} ${spelt.symbol}`.trim();
  const number = String(Number(`${mantissa}e${Number(exponent) - power}`));
  return `${number} ${prefixes.get(power).replace("u", "µ")}${spelt.symbol}`.trim();
}
