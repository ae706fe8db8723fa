// Curves around the clock: of the pipe's or the outside's surface, or of what was tried with a tracer.
import { draw } from "./section.js";
import { step } from "./raster.js";

const LEFT = 44, RIGHT = 10, TOP = 12, FOOT = 20;

// lines: [{hour, value, band, kind, words}]; marks: [{hour, value?, words, kind}]; limits: [{words, value}].
export function chart(svg, { lines, dots = [], marks = [], limits = [] }) {
  const width = svg.clientWidth || 600, height = svg.clientHeight || 150;
  svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
  svg.replaceChildren();
  const every = [...lines, ...dots].flatMap((l) => l.value.flatMap((v) => [v - (l.band ?? 0), v + (l.band ?? 0)]));
  if (!every.length) return draw("text", { x: LEFT, y: height / 2 }, svg, "Drag a tracer: what was tried stays here.");
  let low = Math.min(...every), high = Math.max(...every);
  const span = Math.max(high - low, 0.05);
  const near = limits.filter((l) => l.value > low - span && l.value < high + span);
  for (const limit of near) [low, high] = [Math.min(low, limit.value), Math.max(high, limit.value)];
  const room = 0.1 * Math.max(high - low, 0.05);
  [low, high] = [low - room, high + room];
  const x = (hour) => LEFT + (hour / 12) * (width - LEFT - RIGHT);
  const y = (value) => TOP + ((high - value) / (high - low)) * (height - TOP - FOOT);
  const between = step(low, high, 5);
  const digits = Math.max(0, Math.ceil(-Math.log10(between) - 1e-6));
  for (let v = Math.ceil(low / between) * between; v <= high; v += between) {
    draw("line", { x1: LEFT, x2: width - RIGHT, y1: y(v), y2: y(v), class: "grid" }, svg);
    draw("text", { x: LEFT - 5, y: y(v) + 4, "text-anchor": "end" }, svg, v.toFixed(digits));
  }
  for (let hour = 0; hour <= 12; hour++) {
    draw("line", { x1: x(hour), x2: x(hour), y1: TOP, y2: height - FOOT, class: "grid" }, svg);
    draw("text", { x: x(hour), y: height - 5, "text-anchor": "middle" }, svg, String(hour || 12));
  }
  for (const limit of near) {
    draw("line", { x1: LEFT, x2: width - RIGHT, y1: y(limit.value), y2: y(limit.value), class: "limit" }, svg);
    draw("text", { x: width - RIGHT, y: y(limit.value) - 3, "text-anchor": "end", class: "limit" }, svg, `${limit.words} ${limit.value.toFixed(1)}`);
  }
  for (const { hour, value, band, kind } of lines) {
    if (!hour.length) continue;
    const gap = hour[0] + 12 - hour.at(-1); // over 12 o'clock
    const twelve = value.at(-1) + ((value[0] - value.at(-1)) * (12 - hour.at(-1))) / gap;
    const points = [[0, twelve], ...hour.map((h, i) => [h, value[i]]), [12, twelve]];
    const at = (off) => points.map(([h, v]) => `${x(h).toFixed(1)},${y(v + off).toFixed(1)}`);
    if (band) draw("polygon", { points: [...at(band), ...at(-band).reverse()].join(" "), class: "band" }, svg);
    draw("polyline", { points: at(0).join(" "), class: `curve ${kind}` }, svg);
  }
  for (const { hour, value, kind } of dots) hour.forEach((h, i) => draw("circle", { cx: x(h), cy: y(value[i]), r: 2.5, class: `dot ${kind}` }, svg));
  for (const { hour, words, kind } of marks) {
    draw("line", { x1: x(hour), x2: x(hour), y1: TOP, y2: height - FOOT, class: `at ${kind}` }, svg);
    draw("text", { x: Math.min(Math.max(x(hour), LEFT + 12), width - 24), y: TOP - 2, "text-anchor": "middle", class: kind }, svg, words.slice(0, 10));
  }
}
