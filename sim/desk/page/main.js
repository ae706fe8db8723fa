// The desk: its state is the case's name and the changes made to it; every picture and number is asked for with them.
import { Refused, ask, counts, numbers as floats } from "./ask.js";
import { chart } from "./around.js";
import * as colours from "./colours.js";
import * as episode from "./episode.js";
import { Form } from "./form.js";
import { $, list, limits, make, numbers, supports, verdict } from "./panel.js";
import { extent, paint, raster } from "./raster.js";
import { Section, unpacked, written } from "./section.js";

const AT_ONCE = 1; // requests for pictures under way: the next starts from the newest position
const PAUSE = 350; // ms after the last change until three meshes are asked for
const SELDOM = 120; // ms after a picture in which nothing new came, while something is in hand
const MOST_TRIED = 400;
const KEPT = "coldspot desk: ";

const desk = { name: document.body.dataset.case, edits: [], undone: [], done: [], condition: null, fineness: 3, digest: "", pinned: null, tried: [], mending: false };
let picture = null, rowsNow = [], answer = null, handles = [];
let sent = 0, shown = 0, flying = 0, waiting = null, later = 0, run = null, ahead = false, charted = 0;

const form = new Form($("groups"), $("find"), typed, entry);
const now = new Section($("panes"), "Section, to scale", moved);
const other = new Section($("panes"), "Pinned state");
const picked = (name) => document.querySelector(`input[name=${name}]:checked`).value;
const body = (more = {}) => ({ case: desk.name, edits: desk.edits, condition: desk.condition, fineness: desk.fineness, ...more });

// --- changes ---------------------------------------------------------------------------------------------------------

function same(a, b) {
  return a.length === b.length && a.every((step, i) => step === b[i]);
}

// The changes with one more; a later one of the same key takes the place of the earlier, where no name changed since.
function changed(edits, path, text) {
  const last = edits.findLastIndex((e) => same(e.path, path));
  const steady = edits.slice(last + 1).every((e) => e.path.at(-1) !== "name" && e.path.length > 2);
  const both = last >= 0 && edits[last].text !== "" && text !== ""; // a key that is taken out and given is two changes
  return both && steady ? edits.with(last, { path, text }) : [...edits, { path, text }];
}

async function settle(edits, before = desk.edits, dragged = false) {
  desk.edits = edits;
  if (!(await reopen())) {
    if (desk.edits === edits) desk.edits = before; // the last good field stays, or comes back
    if (dragged) { picturesOf(performance.now()); solve(); }
    return;
  }
  desk.done.push(before);
  desk.undone = [];
  refresh();
}

function refresh() {
  answer = null;
  episode.close();
  keep();
  buttons();
  if (desk.mending) return;
  picturesOf(performance.now());
  solve();
}

function history(from, to) {
  if (!from.length) return;
  to.push(desk.edits);
  desk.edits = from.pop();
  reopen(true).then(refresh);
}

function moved(handle, value, done, since) {
  const first = !moved.before;
  const before = moved.before ?? desk.edits;
  moved.before = done ? null : before;
  let edits = before;
  for (const path of handle.paths) edits = changed(edits, path, written(handle, value));
  desk.tracer = handle.kind === "tracer" ? { name: handle.name, value } : null;
  if (done) {
    settle(edits, before, true);
    return;
  }
  desk.edits = edits;
  if (first) {
    stop();
    judgedNothing();
    answer = null;
    verdict(null, "One mesh while something is moved: bands are not known.");
  }
  picturesOf(since);
}

function typed(row, text) {
  const quoted = row.kind === "text" && text !== "" ? JSON.stringify(text) : text;
  settle(changed(desk.edits, row.path, quoted));
}

async function entry(group, what) {
  if (what === "out") return settle([...desk.edits, { path: group.path, text: "" }]);
  const name = await question(`Name of the new ${group.path.at(-2)}`, `${group.path.at(-1)}b`);
  if (!name) return;
  const text = `{ name = ${JSON.stringify(name)}, ${group.copy.slice(1)}`;
  settle([...desk.edits, { path: [...group.path.slice(0, -1), name], text }]);
}

// --- what is asked ---------------------------------------------------------------------------------------------------

// mend: what cannot be read is shown as well, with what is wrong beside its keys.
async function reopen(mend = desk.mending) {
  const asked = body({ mend });
  try {
    const told = await ask("open", asked);
    desk.name = told.case;
    if (!desk.digest) desk.digest = told.digest;
    cases(told);
    $("cautions").textContent = told.cautions.join(" ");
    form.fill(told.groups);
    desk.mending = Boolean(told.faults);
    document.body.classList.toggle("mending", desk.mending);
    if (told.faults) return unreadable(told.faults);
    Object.assign(desk, { condition: told.condition, command: told.command, episodes: told.episodes, around: told.around });
    title(told.title);
    options($("condition"), told.conditions, told.condition);
    const note = desk.digest !== told.digest ? "The file has changed since it was opened; what is shown starts from the file as it is now." : "";
    say(note);
    handles = told.handles;
    ahead = asked.edits !== desk.edits;
    runs();
    return true;
  } catch (error) {
    troubled(error);
    return false;
  }
}

function title(words) {
  $("title").textContent = $("title").title = words;
  document.title = `${words} – coldspot desk`;
}

// The case as it is cannot be read: its keys can be mended and saved, everything else waits.
function unreadable(faults) {
  stop();
  title(plainly(desk.name));
  options($("condition"), [], "");
  Object.assign(desk, { condition: null, episodes: [], around: [] });
  runs();
  const left = form.blame(faults);
  const many = faults.length === 1 ? "One thing is" : `${faults.length} things are`;
  say(`This case cannot be read yet. ${many} wrong: ${left.length ? plain(left) : "see the messages beside the keys"}.`, "fault");
  verdict(null, "No verdict: the case cannot be read yet.");
  judgedNothing();
  return true;
}

const plain = (faults) => faults.map((f) => (f.key ? `${f.key}: ${f.message}` : f.message)).join("; ");

function cases({ cases, shipped, case: own }) {
  options($("case"), [...new Set([...cases, "", ...(shipped.includes(own) ? [] : [own])])], own);
  const group = make("optgroup");
  group.label = "Cases that come with the program";
  group.append(...shipped.map((name) => new Option(plainly(name), name)));
  $("case").append(group);
  $("case").value = own;
}

const plainly = (name) => name.replace(/^shipped:/, "");

function options(select, names, chosen) {
  select.replaceChildren(...names.map((n) => new Option(n || "a new case", n)));
  select.value = chosen;
}

function troubled(error) {
  if (error.name === "AbortError") return;
  if (!(error instanceof Refused)) throw error;
  if (error.gone) {
    const way = error.gone === "anew" ? "Open the address that it printed; " : "Start it again with coldspot desk and open the address that it prints; ";
    return say(`${error.message[0].toUpperCase()}${error.message.slice(1)}. ${way}what was changed here is offered there.`, "gone");
  }
  const left = error.faults.length ? form.blame(error.faults) : [{ message: error.message }];
  say(plain(left) || "Not taken: see the message beside the key. The last good field stays.", "fault");
}

function say(text, kind = "") {
  const box = $("notice");
  box.hidden = !text;
  box.className = kind;
  box.textContent = text;
}

async function picturesOf(since) {
  if (flying >= AT_ONCE) { waiting = since; return; }
  flying += 1;
  const number = ++sent;
  const { tracer, edits } = desk;
  try {
    const told = await ask("move", body());
    if (number > shown) {
      shown = number;
      handles = told.handles;
      ahead = edits !== desk.edits;
      if (!answer) take(told.picture, told.numbers, false, told.note);
      if (tracer) tried(tracer, told.numbers);
      performance.measure("drag-to-picture", { start: since });
      if (performance.getEntriesByName("drag-to-picture").length > 500) performance.clearMeasures("drag-to-picture");
    }
  } catch (error) {
    if (number > shown) troubled(error);
  }
  flying -= 1;
  if (waiting !== null) {
    const next = waiting;
    waiting = null;
    picturesOf(next);
  }
}

function take(told, numbersNow, banded, note = "") {
  const { point, corner, value, ...ranges } = told.field;
  picture = { ...unpacked(told), field: { point: floats(point), corner: counts(corner), value: floats(value), ...ranges }, banded };
  rowsNow = numbersNow;
  redraw();
  $("mesh").textContent = banded ? `three meshes: ${told.cells.join(", ")} cells` : `one mesh of ${told.cells[0]} cells, bands not known${note ? `; ${note}` : ""}`;
  $("of").textContent = told.condition;
  numbers(rowsNow, desk.pinned?.rows);
}

function tried(tracer, rows) {
  const value = (end) => rows.find((r) => r.path.endsWith(end))?.value;
  const cold = rows.find((r) => /^(contents|liquid)\.min$/.test(r.path))?.value ?? value("wall.min");
  desk.tried.push({ hour: tracer.value, cold, hot: rows.find((r) => r.path === `tracers.${tracer.name.slice(7)}.sheath_max`)?.value ?? value("sheath_max") });
  if (desk.tried.length > MOST_TRIED) desk.tried.shift();
}

function stop() {
  clearTimeout(later);
  run?.abort();
  run = null;
  busy("");
}

function busy(text) {
  $("busy").hidden = $("cancel").hidden = !text;
  $("stage").textContent = text;
}

// A longer request: its progress is shown, it can be cancelled, and the next one takes its place. Where it took the
// place of the three meshes of this state, they are solved after it.
async function longer(what, more, words, tell = () => {}) {
  stop();
  const waits = what !== "answer" && !answer?.verdict;
  if (waits) verdict(null, `No verdict yet: the three meshes wait for the ${what}.`);
  const own = (run = new AbortController());
  busy(words);
  try {
    return await ask(what, body(more), {
      signal: own.signal,
      tell: (part) => {
        if (run !== own) return;
        if (part.progress) $("stage").textContent = part.progress;
        else tell(part);
      },
    });
  } catch (error) {
    if (error.name !== "AbortError" && !answer?.verdict) verdict(null, error.message);
    troubled(error);
    return null;
  } finally {
    if (run === own) { run = null; busy(""); if (waits) solve(); }
  }
}

// What was judged of another state is not of this one.
function judgedNothing() {
  limits(null);
  list($("notes"), []);
}

function solve(around = false) {
  stop();
  answer = null;
  verdict(null, "Three meshes are being solved …");
  judgedNothing();
  later = setTimeout(async () => {
    const told = await longer("answer", { around }, "three meshes", (part) => {
      answer ??= {};
      shown = sent;
      take(part.picture, part.numbers, true);
    });
    if (!told) return;
    answer = told;
    desk.command = told.command;
    verdict(answer);
    limits(answer);
    list($("notes"), [...told.changes.map((c) => `changed in this condition: ${c}`), ...told.notes]);
    $("notes-box").querySelector("summary").textContent = `Notes (${$("notes").children.length})`;
    if (!around) return;
    const box = episode.below(`Around what stands on the line, ${desk.condition}:`, told.verdict);
    box.append(...supports(told));
    box.scrollIntoView();
  }, around ? 0 : PAUSE);
}

function runs() {
  const buttons = [];
  if (desk.around?.length) {
    const button = make("button", `Solve in space: ${desk.around.join(", ")}`);
    button.addEventListener("click", () => solve(true));
    buttons.push(button);
  }
  for (const name of desk.episodes ?? []) {
    const button = make("button", `Follow the episode ${name}`);
    button.addEventListener("click", async () => {
      const told = await longer("episode", { episode: name }, name);
      if (told) episode.show(told, colours.field);
    });
    buttons.push(button);
  }
  const box = $("runs");
  box.replaceChildren(...(buttons.length ? [make("h2", "On request"), ...buttons] : []));
}

// --- what is drawn ---------------------------------------------------------------------------------------------------

function redraw() {
  if (!picture) return;
  const how = desk.pinned ? picked("shown") : "now";
  const zoom = picked("zoom");
  $("panes").className = how;
  other.box.hidden = how !== "both";
  const range = zoom === "pipe" ? "inner" : "range";
  let [low, high] = picture.field[range];
  now.look(picture, zoom);
  const values = now.values(picture);
  let table = colours.field;
  if (how === "both") {
    const before = desk.pinned.picture;
    [low, high] = [Math.min(low, before.field[range][0]), Math.max(high, before.field[range][1])];
    other.look(before, zoom);
    other.show(before, other.values(before), low, high, table);
    other.caption.textContent = `Pinned: ${before.condition}${before.banded ? "" : ", one mesh"}`;
    now.caption.textContent = `Now: ${picture.condition}`;
  }
  if (how === "difference") {
    const before = raster(desk.pinned.picture.field, now.view, now.size);
    for (let i = 0; i < values.length; i++) values[i] -= before[i];
    const [least, most] = extent(values);
    high = Math.max(Math.abs(least), Math.abs(most), 0.01);
    low = -high;
    table = colours.difference;
    now.caption.textContent = "Now less pinned";
  }
  if (how === "now") now.caption.textContent = `${picture.condition}: ${picture.weather}`;
  now.show(picture, values, low, high, table);
  now.take(handles, ahead);
  scale(low, high, table, how === "difference" ? "K" : "degC");
  clearTimeout(charted);
  charted = setTimeout(curves, now.held ? SELDOM : 0);
}

function scale(low, high, table, unit) {
  $("low").textContent = low.toFixed(1);
  $("high").textContent = high.toFixed(1);
  $("unit").textContent = unit;
  const line = $("bar").getContext("2d");
  const image = new ImageData(256, 1);
  table.forEach((c, i) => image.data.set([...c, 255], 4 * i));
  line.putImageData(image, 0, 0);
}

function curves() {
  if (!picture) return;
  const which = $("curve").value;
  if (which === "tried") {
    const hour = desk.tried.map((t) => t.hour);
    const dots = [{ hour, value: desk.tried.map((t) => t.cold), kind: "contents" }, { hour, value: desk.tried.map((t) => t.hot), kind: "sheath" }];
    $("curve-note").textContent = "coldest contents and hottest sheath by the tracer's position, one mesh each, bands not known";
    return chart($("around"), { lines: [], dots: hour.length ? dots : [] });
  }
  const lines = [{ ...picture.around[which], kind: "now" }];
  if (desk.pinned) lines.unshift({ ...desk.pinned.picture.around[which], kind: "before", band: null });
  $("curve-note").textContent = `degC${desk.pinned ? "; dashed: pinned" : ""}${picture.around[which].band === null ? "" : "; shaded: band"}`;
  const marks = which === "wall" ? handles.filter((h) => h.kind === "tracer" || h.kind === "sensor").map((h) => ({ hour: h.value, words: h.name.split(" ").slice(1).join(" "), kind: h.kind === "tracer" ? "sheath" : "sensor" })) : [];
  chart($("around"), { lines, marks, limits: picture.around.limits.filter((l) => l.curve === which) });
}

// --- pin, save, report, command --------------------------------------------------------------------------------------

async function pin() {
  desk.pinned = desk.pinned ? null : { edits: desk.edits, picture, rows: rowsNow };
  $("pin").textContent = desk.pinned ? "Unpin" : "Pin";
  for (const input of document.querySelectorAll("input[name=shown]")) input.disabled = !desk.pinned && input.value !== "now";
  document.querySelector(`input[name=shown][value=${desk.pinned ? "both" : "now"}]`).checked = true;
  redraw();
  numbers(rowsNow, desk.pinned?.rows);
  differences();
}

async function differences() {
  $("compare").hidden = !desk.pinned;
  if (!desk.pinned) return;
  try {
    const told = await ask("compare", body({ pinned: desk.pinned.edits }));
    list($("inputs"), told.inputs.length ? told.inputs : ["no key differs"]);
  } catch (error) {
    troubled(error);
  }
}

async function save() {
  const target = await question("Save as (a .toml file in the desk's folder)", plainly(desk.name).replace(/.*\//, "") || "line.toml");
  if (!target) return;
  let digest = target === desk.name ? desk.digest : "";
  for (;;) {
    let told;
    try {
      told = await ask("save", body({ target, digest }));
    } catch (error) {
      return troubled(error);
    }
    if (!told.conflict) {
      Object.assign(desk, { name: told.case, digest: told.digest, edits: [], done: [], undone: [], pinned: null });
      await reopen();
      refresh();
      return say(`Saved: ${told.case}`);
    }
    if (!(await question(`${target}: ${told.conflict}. Write over it?`, null))) return say(`Not saved: ${told.conflict}`, "fault");
    digest = told.digest;
  }
}

async function report() {
  const told = await longer("report", {}, "report");
  if (!told) return;
  const link = make("a", `Open ${told.folder}/report.html`);
  link.href = `report/${encodeURIComponent(told.folder.replace(/-report$/, ""))}`;
  link.target = "_blank";
  say("Written. ");
  $("notice").append(link);
}

async function copy() {
  try {
    await navigator.clipboard.writeText(desk.command);
    say(`Copied: ${desk.command}`);
  } catch {
    say(desk.command);
  }
}

// A question in a dialog: a text where one is proposed, else yes or no. null where it is left.
function question(words, proposed) {
  const dialog = $("dialog");
  const reply = $("reply");
  $("question").textContent = words;
  reply.hidden = proposed === null;
  reply.value = proposed ?? "";
  const yes = make("button", "OK"), no = make("button", "Cancel");
  yes.value = "yes";
  no.value = "no";
  dialog.querySelector("menu").replaceChildren(yes, no);
  dialog.showModal();
  return new Promise((done) => dialog.addEventListener("close", () => done(dialog.returnValue === "yes" ? (proposed === null ? true : reply.value.trim()) : null), { once: true }));
}

function buttons() {
  $("undo").disabled = !desk.done.length;
  $("redo").disabled = !desk.undone.length;
  for (const id of ["pin", "copy", "report"]) $(id).disabled = desk.mending;
}

// What was changed outlives the page: a desk that was killed and started again on the same port offers it, but nothing
// of a page that is still open.
const tab = (sessionStorage.tab ??= crypto.randomUUID());
navigator.locks?.request(tab, () => new Promise(() => {}));
const keptAs = (name) => `${KEPT}${name}\n`;

function keep() {
  if (desk.edits.length) localStorage.setItem(keptAs(desk.name) + tab, JSON.stringify(desk.edits));
  else localStorage.removeItem(keptAs(desk.name) + tab);
  if (desk.pinned) differences();
}

async function kept(name) {
  const open = new Set(((await navigator.locks?.query())?.held ?? []).map((lock) => lock.name));
  const left = Object.keys(localStorage).filter((key) => key.startsWith(keptAs(name)));
  const key = left.find((k) => k.endsWith(tab)) ?? left.find((k) => !open.has(k.split("\n")[1]));
  const edits = key ? JSON.parse(localStorage.getItem(key)) : [];
  if (key) localStorage.removeItem(key);
  return edits;
}

async function begin(name) {
  Object.assign(desk, { name, edits: [], done: [], undone: [], digest: "", pinned: null, condition: null, tried: [], mending: false });
  $("pin").textContent = "Pin";
  document.querySelector("input[name=shown][value=now]").checked = true;
  if (!(await reopen(true))) return verdict(null, "No answer: see the message above.");
  const edits = await kept(name);
  if (edits.length && (await question("Changes to this case were not saved when the page was left. Take them up again?", null))) {
    desk.edits = edits;
    if (await reopen()) desk.done.push([]);
    else desk.edits = [];
  }
  refresh();
}

$("case").addEventListener("change", (e) => begin(e.target.value));
$("condition").addEventListener("change", (e) => { desk.condition = e.target.value; reopen().then(refresh); });
$("fineness").addEventListener("change", (e) => { desk.fineness = Number(e.target.value); reopen().then(refresh); });
$("undo").addEventListener("click", () => history(desk.done, desk.undone));
$("redo").addEventListener("click", () => history(desk.undone, desk.done));
$("pin").addEventListener("click", pin);
$("copy").addEventListener("click", copy);
$("report").addEventListener("click", report);
$("save").addEventListener("click", save);
$("cancel").addEventListener("click", () => {
  stop();
  if (!answer?.verdict) verdict(null, "Cancelled: no verdict for this state.");
});
$("curve").addEventListener("change", curves);
for (const input of document.querySelectorAll("input[type=radio]")) input.addEventListener("change", redraw);
addEventListener("resize", redraw);
addEventListener("keydown", (e) => {
  if (!(e.ctrlKey || e.metaKey) || e.key.toLowerCase() !== "z" || e.target.matches("input:not([type=radio])")) return;
  e.preventDefault();
  e.shiftKey ? history(desk.undone, desk.done) : history(desk.done, desk.undone);
});
now.svg.addEventListener("pointermove", (e) => {
  if (now.held) return;
  const box = now.svg.getBoundingClientRect();
  const n = now.canvas.width;
  const value = now.shown?.[Math.floor(((e.clientY - box.top) / box.height) * n) * n + Math.floor(((e.clientX - box.left) / box.width) * n)];
  $("here").textContent = value === undefined || Number.isNaN(value) ? "" : `here ${value.toFixed(2)} ${$("unit").textContent}`;
});

begin(desk.name);
