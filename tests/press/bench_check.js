// Answers the questions of some vectors with the page's engine and returns what differs from the Python.

export function checked({ laidOut, prepare, advise }, vectors) {
  const found = [];
  let compared = 0;

  function compare(where, mine, theirs) {
    if (typeof theirs === "number" && typeof mine === "number") {
      compared += 1;
      const isNear = Math.abs(mine - theirs) <= 1e-9 * Math.max(1, Math.abs(theirs));
      if (!isNear) found.push(`${where}: ${mine}, not ${theirs}`);
    } else if (Array.isArray(theirs)) {
      const list = ArrayBuffer.isView(mine) ? Array.from(mine) : mine;
      const fits = Array.isArray(list) && list.length === theirs.length;
      if (fits) theirs.forEach((each, k) => compare(`${where}[${k}]`, list[k], each));
      else found.push(`${where}: ${JSON.stringify(list)}, not ${JSON.stringify(theirs)}`);
    } else if (theirs !== null && typeof theirs === "object") {
      for (const key of Object.keys(theirs)) compare(`${where}.${key}`, mine?.[key], theirs[key]);
    } else if (mine !== theirs) {
      found.push(`${where}: ${JSON.stringify(mine)}, not ${JSON.stringify(theirs)}`);
    }
  }

  vectors.forEach(({ data, memory, cases }, v) => {
    const model = laidOut(data);
    const prepared = prepare(model);
    cases.forEach(({ situation, advice }, n) => {
      const { evidence } = situation;
      const values = evidence.values.map(([c, value]) => [c, value === "OL" ? Infinity : value]);
      const mine = advise(prepared, { ...situation, evidence: { ...evidence, values } }, model.plan, memory);
      compare(`${v}.${n}`, mine, advice);
    });
  });
  return { compared, found: found.slice(0, 20) };
}
