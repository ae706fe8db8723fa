// An episode that was followed: its curves, its answers, and its fields under a slider that can be played.
import { counts, numbers } from "./ask.js";
import { $, kindOf, make, rows, signed } from "./panel.js";
import { Section, draw } from "./section.js";
import { raster, step } from "./raster.js";

const LEFT = 44, RIGHT = 12, TOP = 14, FOOT = 24;
let timer = null;

export function close() {
  clearInterval(timer);
  timer = null;
  $("below").hidden = true;
  $("below").replaceChildren();
}

// The place below the section, empty and open, under a heading.
export function below(words, told) {
  close();
  const box = $("below");
  box.hidden = false;
  const head = make("div", "", "row");
  const shut = make("button", "Close");
  shut.addEventListener("click", close);
  head.append(make("h2", words), make("b", signed(told), `verdict ${kindOf(told)}`), shut);
  box.append(head);
  return box;
}

export function show(told, colours) {
  const box = below(`Episode ${told.name}, ${told.where}:`, told.verdict);
  if (told.failure) return box.append(make("p", told.failure, "fault"));
  const body = make("div", "", "followed");
  const words = make("div");
  const limits = told.limits.map(([limit, allowed, value, verdict, note]) => [`${limit} ${allowed}`, value, make("td", signed(verdict), `verdict ${kindOf(verdict)}`), note]);
  words.append(rows(told.answers, null, `Answers of ${told.name}`), rows(limits, null, `Limits of ${told.name}`), ...told.notes.map((n) => make("p", n, "quiet")));
  const svg = draw("svg", { class: "course", role: "img", "aria-label": `Temperatures over time in ${told.name}` });
  const side = make("div");
  const legend = make("p", "", "row quiet");
  side.append(svg, legend);
  body.append(side, words);
  box.append(body);
  const cursor = course(svg, told, legend);
  if (told.field) slider(told, colours, side, cursor);
  box.scrollIntoView();
}

function course(svg, told, legend) {
  const width = svg.clientWidth || 700, height = svg.clientHeight || 260;
  svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
  const every = told.curves.flatMap((c) => c.value).filter((v) => v !== null);
  let low = Math.min(...every), high = Math.max(...every) + 0.01;
  const last = told.hour.at(-1);
  const near = told.marks.filter((m) => m.value > 2 * low - high && m.value < 2 * high - low);
  [low, high] = [Math.min(low, ...near.map((m) => m.value)), Math.max(high, ...near.map((m) => m.value))];
  const x = (hour) => LEFT + (hour / last) * (width - LEFT - RIGHT);
  const y = (value) => TOP + ((high - value) / (high - low)) * (height - TOP - FOOT);
  const between = step(low, high, 6);
  for (let v = Math.ceil(low / between) * between; v <= high; v += between) {
    draw("line", { x1: LEFT, x2: width - RIGHT, y1: y(v), y2: y(v), class: "grid" }, svg);
    draw("text", { x: LEFT - 5, y: y(v) + 4, "text-anchor": "end" }, svg, String(Math.round(v * 100) / 100));
  }
  const hours = step(0, last, 8);
  for (let h = 0; h <= last + 1e-9; h += hours) draw("text", { x: x(h), y: height - 6, "text-anchor": "middle" }, svg, `${Math.round(h * 100) / 100} h`);
  for (const { words, value } of near) {
    draw("line", { x1: LEFT, x2: width - RIGHT, y1: y(value), y2: y(value), class: "limit" }, svg);
    draw("text", { x: width - RIGHT, y: y(value) - 3, "text-anchor": "end", class: "limit" }, svg, words);
  }
  for (const { hour, words } of told.events) {
    const line = draw("line", { x1: x(hour), x2: x(hour), y1: TOP, y2: height - FOOT, class: "event" }, svg);
    draw("title", {}, line, `${hour.toFixed(2)} h: ${words}`);
  }
  for (const { words, kind, value } of told.curves) {
    const points = value.flatMap((v, i) => (v === null ? [] : [`${x(told.hour[i]).toFixed(1)},${y(v).toFixed(1)}`]));
    draw("title", {}, draw("polyline", { points: points.join(" "), class: `curve ${kind}` }, svg), words);
    const one = make("span", words);
    const sample = draw("svg", { width: 28, height: 10, "aria-hidden": true });
    draw("path", { d: "M0,5H26", class: `curve ${kind}` }, sample);
    one.prepend(sample);
    legend.append(one);
  }
  const cursor = draw("line", { y1: TOP, y2: height - FOOT, class: "cursor" }, svg);
  return (hour) => { cursor.setAttribute("x1", x(hour)); cursor.setAttribute("x2", x(hour)); };
}

function slider(told, colours, side, cursor) {
  const field = { point: numbers(told.field.point), corner: counts(told.field.corner) };
  const values = told.field.values.map(numbers);
  const [low, high] = told.field.range;
  const picture = { field, outline: told.outline, curves: told.lines.map(numbers), bore_known: true };
  const row = make("div", "", "row");
  const play = make("button", "Play");
  const range = make("input");
  Object.assign(range, { type: "range", min: 0, max: values.length - 1, value: 0 });
  range.setAttribute("aria-label", "Moment of the episode");
  const said = make("output");
  row.append(play, range, said);
  side.append(row);
  const pane = new Section(side, "Section at this moment");
  pane.look(picture, "whole");
  const frozen = told.frozen.map((f) => (f ? numbers(f) : null));
  const put = () => {
    const n = Number(range.value);
    picture.field = { ...field, value: values[n] };
    pane.show(picture, pane.values(picture), low, high, colours);
    if (frozen[n]) ice(pane, { ...field, value: frozen[n] });
    if (told.rings[n] < told.outline.inner_radius - 0.01) draw("circle", { r: told.rings[n], class: "ring" }, pane.rings);
    pane.caption.textContent = frozen[n] ? "hatched: frozen" : "";
    said.textContent = `${told.moments[n].toFixed(2)} h; scale ${low.toFixed(1)} to ${high.toFixed(1)} degC`;
    range.setAttribute("aria-valuetext", `${told.moments[n].toFixed(2)} hours`);
    cursor(told.moments[n]);
  };
  range.addEventListener("input", put);
  play.addEventListener("click", () => {
    const running = timer !== null;
    clearInterval(timer);
    timer = null;
    play.textContent = running ? "Play" : "Stop";
    if (running) return;
    timer = setInterval(() => { range.value = (Number(range.value) + 1) % values.length; put(); }, 350);
  });
  put();
}

// Hatches what is frozen by half or more.
function ice(pane, share) {
  const size = pane.canvas.width, line = pane.canvas.getContext("2d");
  const image = line.getImageData(0, 0, size, size);
  raster(share, pane.view, size).forEach((part, i) => {
    if (part >= 0.5 && ((i % size) + Math.floor(i / size)) % 9 < 2) image.data.set([255, 255, 255, 255], 4 * i);
  });
  line.putImageData(image, 0, 0);
}
