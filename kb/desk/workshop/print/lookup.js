"use strict";
// The offline look-up: kb/desk/workshop/number_lookup.py once more, so that it works without a network. Every character is taken at its word.
const SERIES = JSON.parse(document.getElementById("numbers").textContent);

function tokensOf(typed) {
  // Reading notation: ? one character, [38] one of these, * any number. Spaces, dashes, dots and slashes do not count.
  const text = typed.normalize("NFKD").replace(/[\u0300-\u036f]/g, "").toUpperCase().replace(/[\s./\\\-\u00ad\u2010-\u2015\u2212]/g, "");
  const tokens = [];
  for (let at = 0; at < text.length; at++) {
    const c = text[at];
    if (c === "[") {
      const end = text.indexOf("]", at);
      const inside = end < 0 ? "" : text.slice(at + 1, end);
      if (!/^[A-Z0-9]+$/.test(inside)) return null;
      tokens.push(inside);
      at = end;
    } else if (c === "?" || c === "*" || /[A-Z0-9]/.test(c)) {
      if (c !== "*" || tokens[tokens.length - 1] !== "*") tokens.push(c);
    } else return null;
  }
  return tokens.length && tokens.length <= 64 ? tokens : null;
}

function pastGaps(tokens, used) {
  const found = [used];
  while (used < tokens.length && tokens[used] === "*") found.push(++used);
  return found;
}

function take(tokens, used, character) {
  if (used === tokens.length) return [];
  const token = tokens[used];
  if (token === "*") return pastGaps(tokens, used);
  return token === "?" || token.includes(character) ? pastGaps(tokens, used + 1) : [];
}

function written(tokens, before, after, lowest, highest) {
  // States are "used,low,high": tokens used up, and whether the number is still the lowest, the highest.
  let states = new Set(pastGaps(tokens, 0).map((used) => used + ",1,1"));
  const step = (characters, position) => {
    const following = new Set();
    for (const state of states) {
      const [used, low, high] = state.split(",").map(Number);
      for (const c of characters(low, high)) {
        const l = position === null ? low : +(low && c === lowest[position]);
        const h = position === null ? high : +(high && c === highest[position]);
        for (const reached of take(tokens, used, c)) following.add(reached + "," + l + "," + h);
      }
    }
    states = following;
  };
  for (const c of before) step(() => [c], null);
  for (let at = 0; at < lowest.length; at++)
    step((low, high) => {
      const digits = [];
      for (let d = low ? +lowest[at] : 0; d <= (high ? +highest[at] : 9); d++) digits.push(String(d));
      return digits;
    }, at);
  for (const c of after) step(() => [c], null);
  return [...states].some((state) => Number(state.split(",")[0]) === tokens.length);
}

function any(tokens, ways, first, last) {
  return ways.some(([before, after, digits, low, high]) => {
    const lowest = BigInt(low) > BigInt(first) ? low : first, highest = BigInt(high) < BigInt(last) ? high : last;
    if (BigInt(lowest) > BigInt(highest)) return false;
    return written(tokens, before, after, lowest.padStart(digits, "0"), highest.padStart(digits, "0"));
  });
}

function remaining(tokens) {
  const found = [];
  for (const series of SERIES)
    series.blocks.forEach((block, position) => {
      if (!any(tokens, block.ways, "0", "99999999999999999999")) return;
      const castings = series.castings.map((casting) => {
        const variants = new Set();
        for (const [of, first, last, names] of casting.stretches)
          if (of === position && any(tokens, block.ways, first, last)) names.forEach((name) => variants.add(name));
        return { component: casting.component, name: casting.name, variants: [...variants].sort(), names: casting.variants };
      });
      found.push({ series: series.series, where: series.name, block: block.block, name: block.name, built: block.built, castings });
    });
  return found;
}

function add(parent, tag, text) {
  const element = document.createElement(tag);
  element.textContent = text;
  parent.append(element);
  return element;
}

function look(event) {
  if (event) event.preventDefault();
  const out = document.getElementById("remaining");
  out.replaceChildren();
  const tokens = tokensOf(document.getElementById("serial").value);
  if (!tokens) return add(out, "p", "Write letters and digits; ? is one character that is gone, [38] one of these, * any number of missing ones.");
  const found = remaining(tokens);
  if (!found.length)
    return add(out, "p", "No number here can be read exactly so. A character may be worn into another one, or the number be from outside: that needs the full tool, kb identify.");
  add(out, "p", "Taken at its word, every character. If one is worn, ask the full tool: kb identify.");
  for (const block of found) {
    add(out, "h3", block.name + (block.built ? ", " + block.built : ""));
    add(out, "p", block.where + ", block " + block.block);
    const list = add(out, "ul", "");
    for (const casting of block.castings)
      if (casting.variants.length) add(list, "li", casting.name + ": " + casting.variants.map((id) => casting.names[id]).join(" or "));
  }
}

document.getElementById("look-up").addEventListener("submit", look);
