// A section: its field on a canvas, its outlines, marks and handles above it. What a handle is dragged to is told, not kept.
import { numbers } from "./ask.js";
import { paint, raster } from "./raster.js";

const NS = "http://www.w3.org/2000/svg";
const MINUTES = 60;
const SHAPES = { contents: "M-5,-4 5,-4 0,5z", wall: "M-4,-4 4,-4 4,4 -4,4z", sheath: "M-5,4 5,4 0,-5z" };

export function draw(name, parts = {}, parent = null, words = "") {
  const made = document.createElementNS(NS, name);
  for (const [key, value] of Object.entries(parts)) made.setAttribute(key, value);
  if (words) made.textContent = words;
  parent?.append(made);
  return made;
}

export function face(hours) {
  const minutes = Math.round(hours * MINUTES) % 720;
  return `${Math.floor(minutes / MINUTES) || 12}:${String(minutes % MINUTES).padStart(2, "0")}`;
}

// The text of a key for a value of a handle.
export function written(handle, value) {
  if (handle.as === "share") return String(Math.round(value * 100) / 100);
  if (handle.as === "mm") return `${Math.round(value * 10) / 10} mm`;
  const [hours, minutes] = face(value).split(":");
  return minutes === "00" ? hours : `${hours}:${minutes}`;
}

export function spoken(handle, value) {
  if (handle.as === "share") return `${Math.round(value * 100)} % full`;
  return handle.as === "mm" ? `${Math.round(value * 10) / 10} mm thick` : `${face(value)} o'clock`;
}

export class Section {
  // changed(handle, value, done): a handle was moved; done once it is let go.
  constructor(parent, label, changed = null) {
    this.box = document.createElement("figure");
    this.box.className = "pane";
    this.box.setAttribute("aria-label", label);
    this.caption = document.createElement("figcaption");
    this.canvas = document.createElement("canvas");
    this.still = draw("svg", { "aria-hidden": true }); // hours and what else changes seldom: a layer of its own
    this.svg = draw("svg", { "aria-label": label, role: changed ? "group" : "img" });
    const plate = document.createElement("div");
    plate.className = "plate";
    plate.append(this.canvas, this.still, this.svg);
    this.box.append(this.caption, plate);
    parent.append(this.box);
    this.changed = changed;
    this.handles = new Map();
    this.rings = draw("g", {}, this.svg);
    this.marks = draw("g", {}, this.svg);
    this.knobs = draw("g", {}, this.svg);
  }

  look(picture, zoom) {
    const { cover_radius, tracer_reach, drop } = picture.outline;
    this.view = zoom === "pipe" ? { x: 0, y: 0, reach: 1.3 * tracer_reach } : { x: 0, y: -drop, reach: 1.16 * cover_radius };
    this.zoom = zoom;
    const wide = this.svg.clientWidth || 400; // dots of the page; asked for once a picture, before anything is changed
    this.size = Math.round(wide * Math.min(window.devicePixelRatio, 2)); // dots of the canvas
    this.mm = (2 * this.view.reach) / wide; // mm a dot of the page
    this.fine = this.size / wide;
    const { x, y, reach } = this.view;
    for (const svg of [this.still, this.svg]) svg.setAttribute("viewBox", `${x - reach} ${-y - reach} ${2 * reach} ${2 * reach}`);
  }

  // Temperatures on this pane's dots.
  values(picture) {
    return raster(picture.field, this.view, this.size);
  }

  show(picture, values, low, high, colours) {
    if (this.canvas.width !== this.size) this.canvas.width = this.canvas.height = this.size;
    this.shown = values;
    paint(this.canvas, values, low, high, colours);
    this.outline(picture);
  }

  outline(picture) {
    const { mm } = this;
    this.edges(picture);
    const seldom = JSON.stringify([picture.outline, picture.bore_known, picture.wet, picture.wind_from, this.zoom, mm]);
    if (seldom !== this.seldom) this.around(picture);
    this.seldom = seldom;
    this.rings.replaceChildren();
    this.marks.replaceChildren();
    for (const mark of picture.marks ?? []) {
      if (!SHAPES[mark.kind]) continue;
      const made = draw("path", { d: SHAPES[mark.kind], class: `mark ${mark.kind}`, transform: `translate(${mark.x} ${-mark.y}) scale(${mm})` }, this.marks);
      draw("title", {}, made, mark.label);
    }
  }

  // Interfaces, on the canvas: thousands of points, drawn anew with every picture.
  edges(picture) {
    const line = this.canvas.getContext("2d");
    const { x, y, reach } = this.view;
    const scale = this.canvas.width / (2 * reach);
    line.strokeStyle = "#1d2733";
    line.lineWidth = 0.9 * this.fine;
    line.beginPath();
    for (const c of picture.curves) {
      for (let i = 0; i < c.length; i += 2) line[i ? "lineTo" : "moveTo"]((c[i] - x + reach) * scale, (y + reach - c[i + 1]) * scale);
    }
    line.stroke();
  }

  around(picture) {
    const { mm, still } = this;
    still.replaceChildren();
    const lines = draw("g", { class: "lines" }, still);
    const { inner_radius, cover_radius, tracer_reach, drop } = picture.outline;
    if (!picture.bore_known) draw("circle", { r: inner_radius, class: "unknown" }, lines);
    for (const [start, stop, inner, outer] of picture.wet ?? []) {
      const turn = (stop - start + 2 * Math.PI) % (2 * Math.PI);
      const at = (r, a) => `${r * Math.sin(a)},${drop - r * Math.cos(a)}`;
      const big = turn > Math.PI ? 1 : 0;
      const d = `M${at(inner, start)}A${inner},${inner} 0 ${big} 1 ${at(inner, start + turn)}L${at(outer, start + turn)}A${outer},${outer} 0 ${big} 0 ${at(outer, start)}z`;
      draw("path", { d, class: "wet" }, lines);
    }
    const rim = this.zoom === "pipe" ? 1.14 * tracer_reach : 1.05 * cover_radius;
    for (let hour = 1; hour <= 12; hour++) {
      const [x, y] = around(hour, rim, this.zoom === "pipe" ? 0 : drop);
      draw("text", { x, y, class: "hour", style: `font-size:${11 * mm}px;stroke-width:${3 * mm}` }, lines, String(hour));
    }
    if (picture.wind_from != null) {
      const hour = (picture.wind_from * 6) / Math.PI;
      const [x, y] = around(hour, 1.13 * cover_radius, drop);
      draw("path", { d: "M-5,-9 5,-9 0,3z", class: "wind", transform: `translate(${x} ${y}) rotate(${hour * 30}) scale(${mm})` }, lines);
    }
  }

  // Handles of the case; the one in hand stays where the hand is, and all do where the page is ahead of the desk.
  take(handles, ahead = false) {
    const names = new Set(handles.map((h) => h.name));
    for (const [name, knob] of this.handles) if (!names.has(name)) { knob.element.remove(); this.handles.delete(name); }
    for (const handle of handles) {
      const knob = this.handles.get(handle.name) ?? this.knob(handle);
      if (knob !== this.held && !ahead) knob.value = handle.value;
      const { radius, ...rest } = handle; // m, of what is drawn; a layer that is being pulled has the new one
      knob.handle = { ...rest, radius: 1000 * radius, drop: 1000 * handle.drop };
      this.put(knob);
    }
  }

  knob(handle) {
    const element = draw("g", { class: `knob ${handle.kind}`, tabindex: 0, role: "slider", "aria-label": handle.name }, this.knobs);
    draw("circle", { r: 20, class: "reach" }, element);
    draw("circle", { r: handle.kind === "tracer" ? 9 : 6, class: "grip" }, element);
    if (handle.kind === "level") draw("path", { d: "M-16,0 16,0", class: "grip" }, element);
    const short = handle.kind === "tracer" || handle.kind === "sensor" ? handle.name.replace(/^\w+ /, "") : "";
    if (short) draw("text", { class: "name" }, element, short.slice(0, 12));
    draw("title", {}, element, `${handle.name}: drag, or arrow keys`);
    const knob = { element, handle, value: handle.value };
    this.handles.set(handle.name, knob);
    element.addEventListener("pointerdown", (event) => this.grip(knob, event));
    element.addEventListener("keydown", (event) => this.key(knob, event));
    return knob;
  }

  put(knob) {
    const { handle, value, element } = knob;
    const { mm } = this;
    let x, y;
    if (handle.as === "share") {
      y = -Math.max(-0.86, Math.min(0.86, 2 * value - 1)) * handle.radius;
      x = -0.3 * handle.radius;
    } else {
      const pulled = handle.as === "mm" ? value - handle.value : 0;
      [x, y] = around(handle.as === "mm" ? handle.at : value, handle.radius + pulled, handle.drop);
    }
    element.setAttribute("transform", `translate(${x} ${y}) scale(${mm})`);
    const name = element.querySelector(".name");
    const far = Math.hypot(x, y) || 1;
    if (name) {
      const out = handle.kind === "sensor" ? -20 : 22;
      name.setAttribute("x", (out * x) / far);
      name.setAttribute("y", (out * y) / far);
    }
    element.setAttribute("aria-valuenow", value.toFixed(3));
    element.setAttribute("aria-valuemin", 0);
    element.setAttribute("aria-valuemax", handle.as === "share" ? 1 : handle.as === "mm" ? 1000 : 12);
    element.setAttribute("aria-valuetext", spoken(handle, value));
  }

  // Where a pointer is, mm.
  at(event, box) {
    const { x, y, reach } = this.view;
    return [x - reach + ((event.clientX - box.left) / box.width) * 2 * reach, y + reach - ((event.clientY - box.top) / box.height) * 2 * reach];
  }

  grip(knob, event) {
    event.preventDefault();
    const { element, handle } = knob;
    element.focus();
    element.setPointerCapture(event.pointerId);
    this.held = knob;
    const start = { ...handle };
    let box = this.svg.getBoundingClientRect();
    const anew = () => { box = this.svg.getBoundingClientRect(); };
    addEventListener("scroll", anew, true);
    let moved = false, drawn = 0;
    const move = (e) => {
      const [x, y] = this.at(e, box);
      let value = (((Math.atan2(x, y + start.drop) * 6) / Math.PI) + 12) % 12;
      if (start.as === "share") value = Math.min(1, Math.max(0, (y / start.radius + 1) / 2));
      if (start.as === "mm") value = Math.max(1, start.value + Math.round(Math.hypot(x, y + start.drop) - start.radius));
      if (start.as === "clock") value = Math.round(value * MINUTES) / MINUTES;
      if (written(start, value) === written(start, knob.value)) return;
      moved = true;
      knob.value = value;
      drawn ||= requestAnimationFrame(() => { drawn = 0; this.put(knob); }); // a mouse tells more often than is drawn
      this.changed(start, value, false, e.timeStamp);
    };
    const drop = () => {
      element.removeEventListener("pointermove", move);
      removeEventListener("scroll", anew, true);
      this.held = null;
      if (moved) this.changed(start, knob.value, true);
    };
    element.addEventListener("pointermove", move);
    element.addEventListener("lostpointercapture", drop, { once: true });
  }

  key(knob, event) {
    const { handle } = knob;
    const small = { clock: 1 / 12, share: 0.05, mm: 1 }[handle.as];
    const large = { clock: 1, share: 0.25, mm: 10 }[handle.as];
    const way = { ArrowRight: small, ArrowUp: small, ArrowLeft: -small, ArrowDown: -small, PageUp: large, PageDown: -large }[event.key];
    if (way === undefined) return;
    event.preventDefault();
    let value = knob.value + way;
    if (handle.as === "clock") value = (value + 12) % 12;
    if (handle.as === "share") value = Math.min(1, Math.max(0, value));
    if (handle.as === "mm") value = Math.max(1, value);
    knob.value = value;
    this.put(knob);
    this.changed(handle, value, true);
  }
}

function around(hours, radius, drop) {
  const turn = (hours * Math.PI) / 6;
  return [radius * Math.sin(turn), drop - radius * Math.cos(turn)];
}

// A picture of the desk with its bytes as numbers.
export function unpacked(picture) {
  return { ...picture, curves: picture.curves.map(numbers) };
}
