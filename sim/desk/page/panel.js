// The answer in words: verdict, numbers, limits, supports, and what differs from a pinned state.

export const $ = (id) => document.getElementById(id);

export function make(tag, words = "", className = "") {
  const made = document.createElement(tag);
  made.textContent = words;
  if (className) made.className = className;
  return made;
}

export function rows(cells, heads = null, name = "") {
  const table = make("table");
  if (name) table.setAttribute("aria-label", name);
  if (heads) table.append(line(heads, "th"));
  table.append(...cells.map((c) => line(c)));
  return table;
}

function line(cells, tag = "td") {
  const row = make("tr");
  for (const cell of cells) {
    if (cell instanceof Node) row.append(cell);
    else row.append(make(tag, cell));
  }
  return row;
}

const SIGNS = { pass: "✓", fail: "✗", "not converged": "✗" };
export const kindOf = (verdict) => ({ pass: "pass", fail: "fail", "not converged": "fail" })[verdict] ?? "open";
export const signed = (verdict) => `${SIGNS[verdict] ?? "?"} ${verdict}`;

// answer: of three meshes, or null while there is none for this state.
export function verdict(answer, waiting) {
  const box = $("verdict");
  box.className = answer ? kindOf(answer.verdict) : "open";
  if (!answer) return box.replaceChildren(make("p", waiting, "word"));
  const lines = [make("p", `${signed(answer.verdict)}${answer.left_out.length ? ", of the sections alone" : ""}`, "word"), make("p", `${answer.supports.length ? "sections and what stands on the line, every condition" : "sections of every condition"}: ${answer.tally}`)];
  lines.push(...answer.headline.map((text) => make("p", text)));
  if (answer.left_out.length) lines.push(make("p", `Not evaluated here: ${answer.left_out.join(", ")}.`, "left"));
  box.replaceChildren(...lines);
}

const GLYPHS = [[/^(contents|liquid)\.min/, "contents"], [/^wall\.min/, "wall"], [/sheath_max$/, "sheath"]];

function glyph(path) {
  const kind = GLYPHS.find(([pattern]) => pattern.test(path))?.[1];
  return make("i", "", kind ? `glyph ${kind}` : "");
}

export function numbers(now, pinned) {
  const before = new Map((pinned ?? []).map((row) => [row.path, row]));
  const table = $("numbers");
  table.className = pinned ? "beside" : "";
  const cells = now.flatMap((row) => {
    const name = make("td");
    name.append(glyph(row.path), `${row.words}${row.at ? `, ${row.at}` : ""}${pinned ? `, ${row.unit}` : ""}`);
    if (!pinned) return [[name, `${row.text} ${row.unit}`]];
    name.colSpan = 3;
    const other = before.get(row.path);
    return [[name], [row.text, other?.text ?? "–", other ? apart(row, other) : "–"]];
  });
  table.replaceChildren(...rows(cells, pinned ? ["now", "pinned", "change"] : null).childNodes);
}

// A change with the sum of both bands, on the side of caution; no band where one of them is not known.
function apart(row, other) {
  if (row.value === null || other.value === null) return "–";
  const change = row.value - other.value;
  const band = row.band === null || other.band === null ? null : row.band + other.band;
  const digits = band === null ? 2 : Math.max(0, Math.min(3, Math.ceil(-Math.log10(band) + 0.7)));
  const unit = row.unit === "degC" ? "K" : row.unit;
  const text = change.toFixed(digits);
  const sign = Number(text) === 0 ? "" : change > 0 ? "+" : "-";
  return `${sign}${text.replace("-", "")}${band === null ? "" : ` ± ${(Math.ceil(band * 10 ** digits) / 10 ** digits).toFixed(digits)}`} ${unit}`;
}

export function limits(answer) {
  const box = $("limits");
  if (!answer) return box.replaceChildren(make("p", "Held on three meshes, once nothing is moved.", "quiet"));
  const places = new Map();
  for (const row of answer.limits) {
    const place = `${row.condition}, ${row.place}`;
    if (!places.has(place)) places.set(place, []);
    const mark = make("td", signed(row.verdict), `verdict ${kindOf(row.verdict)}`);
    const what = make("td", row.limit);
    what.append(make("small", `${row.value}${row.at ? ` at ${row.at}` : ""}, margin ${row.margin}`));
    if (row.note && row.verdict !== "pass") what.append(make("small", row.note));
    else what.title = row.note;
    places.get(place).push([what, mark]);
  }
  box.replaceChildren(
    ...[...places].flatMap(([place, cells]) => [make("h3", place), rows(cells, null, `Limits: ${place}`)]),
  );
  if (!answer.limits.length) box.append(make("p", "The case gives no limit.", "quiet"));
}

export function list(element, texts) {
  element.replaceChildren(...texts.map((text) => make("li", text)));
}

const whole = (text) => text.replaceAll(" ± ", "\u00a0±\u00a0"); // a number stays on one line with its band

export function supports(answer) {
  return (answer.supports ?? []).map((one) => {
    const box = make("div", "", "support");
    const words = make("div");
    words.append(make("h3", `${one.name} (${one.family}), ${one.condition}: ${signed(one.verdict)}`));
    if (one.failure) words.append(make("p", one.failure, "fault"));
    if (one.picture) {
      const image = make("img");
      image.src = `data:image/png;base64,${one.picture}`;
      image.alt = one.alt;
      box.append(image);
    }
    box.append(words);
    words.append(rows(one.single.map(([words, unit, text]) => [words, whole(`${text} ${unit}`)]), null, one.name));
    if (one.both.length) words.append(rows(one.both.map(([words, unit, a, b]) => [`${words}, ${unit}`, whole(a), whole(b)]), ["", "tracer alone", "with allowance"], `${one.name}, with and without its allowance`));
    words.append(rows(one.allowance.map(([words, text]) => [words, whole(text)]), null, `Allowance of ${one.name}`));
    words.append(...one.notes.map((text) => make("p", text, "quiet")));
    return box;
  });
}
