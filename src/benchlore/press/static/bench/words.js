/**
 * Advice in the sentences that the Python gives: `benchlore.library.advice_words`, whose texts come with the page.
 */

import { totalOf } from "./model.js";

/** A number with fixed digits, a tie going to the even digit as in Python. */
function fixed(number, digits) {
  const scaled = number * 10 ** digits;
  const isTie = Math.abs(scaled % 1) === 0.5 && Number.isInteger(number * 2 ** (digits + 1));
  const rounded = isTie ? 2 * Math.round(scaled / 2) / 10 ** digits : number;
  return rounded.toFixed(digits);
}

/** An amount in minor units of its currency: the shortest decimal number that it prints as, a tie to the even digit. */
function minor(amount, decimals) {
  const text = String(Math.abs(amount));
  const [whole, part = ""] = (text.includes("e") ? Math.abs(amount).toFixed(20) : text).split(".");
  const kept = BigInt(whole + part.slice(0, decimals).padEnd(decimals, "0"));
  const rest = part.slice(decimals);
  const isPast = rest[0] > "5" || /^5\d*[1-9]/.test(rest);
  const isTie = /^50*$/.test(rest);
  return isPast || (isTie && kept % 2n === 1n) ? kept + 1n : kept;
}

/** An amount with its currency: `1,061.40 EUR`. */
export function money(amount, currency, decimals) {
  const found = minor(amount, decimals);
  const digits = String(found).padStart(decimals + 1, "0");
  const whole = digits.slice(0, digits.length - decimals).replace(/\B(?=(\d{3})+$)/g, ",");
  const part = decimals > 0 ? `.${digits.slice(-decimals)}` : "";
  return `${amount < 0 && found > 0n ? "-" : ""}${whole}${part} ${currency}`;
}

/** A probability as a share; what is not zero never prints as 0 %, nor what is not one as 100 %. */
export function share(probability) {
  const percent = 100 * probability;
  if (percent <= 0 || percent >= 100) return `${fixed(percent, 0)} %`;
  if (percent >= 99.5) return `${fixed(Math.min(percent, 99.9), 1)} %`;
  if (percent >= 1) return `${fixed(percent, 0)} %`;
  return percent >= 0.1 ? `${fixed(percent, 1)} %` : "<0.1 %";
}

const filled = (text, values) => text.replace(/\{([a-z]+)\}/g, (_, name) => values[name]);

/** What speaks for one page: its engine's model and its texts. */
export class Words {
  constructor(model, texts) {
    this.model = model;
    this.texts = texts;
    this.currency = model.data.currency;
    this.decimals = model.data.decimals;
    this.titles = new Map(model.data.faults.map((fault) => [fault.name, fault.title]));
    for (const each of [...model.checks, ...model.fixes]) this.titles.set(each.name, each.title);
  }

  say(name, values = {}) {
    return filled(this.texts.said[name], values);
  }

  money(amount) {
    return money(amount, this.currency, this.decimals);
  }

  fault(place) {
    return this.model.data.faults[place].title;
  }

  title(option) {
    return this.titles.get(option.action);
  }

  name(option) {
    if (option.kind === "return") return this.texts.said.return;
    const title = this.title(option);
    const named = title === option.action ? title : this.say("named", { title, name: option.action });
    return option.kind === "fix" ? this.say("fix", { named }) : named;
  }

  cost(cost) {
    const parts = Object.entries(this.texts.parts)
      .filter(([part]) => cost[part] > 0)
      .map(([part, word]) => `${this.money(cost[part])} ${word}`);
    if (parts.length === 0) return this.texts.said.nothing;
    return parts.length === 1 ? parts[0] : this.say("parts", { total: this.money(totalOf(cost)), parts: parts.join(", ") });
  }

  /** Why the best step, a check or a fix, is best. */
  why(advice) {
    const [best, other] = advice.options;
    const said = [this.say("costs", { cost: this.cost(best.cost) })];
    if (best.kind === "check") said.push(this.say("tells", { bits: fixed(best.information, 2) }));
    if (advice.knowing !== null) {
      said.push(this.say("knowing", { worth: this.money(advice.knowing), cost: this.money(totalOf(best.cost)) }));
    }
    const method = this.texts.methods[best.method];
    said.push(this.say("expected", { expected: this.money(best.expected), method }));
    if (other) said.push(this.second(advice, other));
    return said;
  }

  second(advice, other) {
    const more = beyond(advice, other);
    let said = "second";
    if (advice.options[0].method === "plan") said = more > 0 ? "second seen from here" : "second by the plan";
    return this.say(said, { other: this.name(other), more: this.money(more) });
  }

  /** Why the return is best. */
  stop(advice) {
    const [best, other] = advice.options;
    const said = [this.say("costs", { cost: this.cost(best.cost) })];
    if (!other) said.push(this.say("nothing else"));
    else if (beyond(advice, other) >= 0) {
      said.push(this.say("going on", { more: this.money(beyond(advice, other)), other: this.name(other) }));
    }
    return said;
  }

  /** Why another step than the best one is not. */
  whyNot(advice, option) {
    if (!option) return [this.say("not weighed")];
    const more = this.money(beyond(advice, option));
    return [this.say("costs", { cost: this.cost(option.cost) }), this.say("more", { more })];
  }

  /** What would have to be true to go on, where the return is best; nothing where nothing was found. */
  goOn(advice) {
    const { surer, equipment } = advice.goOn;
    const said = [];
    if (surer) {
      const fault = this.fault(surer.fault);
      said.push(this.say("surer", { fault, needed: share(surer.needed), chance: share(surer.chance), fix: surer.fix }));
    }
    for (const each of equipment) {
      const expected = this.money(each.expected);
      said.push(this.say("equipped", { equipment: each.equipment.join(" and "), action: each.action, expected }));
    }
    return said;
  }

  /** What else is to be known: what clashes, who is alike, what is held back. */
  notices(advice) {
    const { conflict, setAside: aside } = advice;
    const said = advice.alike.map((group) => this.alike(group));
    const are = aside.length === 1 ? "is" : "are";
    if (conflict.length > 0) said.unshift(this.say("conflict", { clash: conflict.join(", "), aside: aside.join(", "), are }));
    const over = this.texts.words["over budget"];
    const lacking = advice.heldBack.filter(([, why]) => why.includes("needs "));
    const costly = advice.heldBack.filter(([, why]) => why.startsWith(over));
    const held = (pairs) => pairs.map(([name, why]) => `${name} (${why})`).join("; ");
    if (lacking.length > 0) said.push(this.say("lacking", { held: held(lacking) }));
    if (costly.length > 0) said.push(this.say("costly", { held: held(costly.map(([name, why]) => [name, why.split(",")[0]])) }));
    return said;
  }

  alike({ faults, reason, fix, checks }) {
    const names = this.joined(faults.map((fault) => this.fault(fault)));
    const would = checks.map(([check, why]) => `${check} (${why})`).join("; ");
    return this.say(reason, { names, fix }) + (would ? this.say("would", { checks: would }) : "");
  }

  joined(names) {
    const most = this.texts.words["most alike"];
    const shown = names.length > most ? [...names.slice(0, most - 1), `${names.length - most + 1} others`] : names;
    return `${shown.slice(0, -1).join(", ")} and ${shown.at(-1)}`;
  }
}

/** What an option costs beyond the best one, both as the ranking sees them. */
export const beyond = ({ options: [best] }, option) => option.expected - (best.ranked ?? best.expected);
