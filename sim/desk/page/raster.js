// Temperatures of triangles as a square of values, and values as colours: the values come from the desk, the page paints.

const LINES = 11; // isotherms, about

// view: {x, y, reach} mm; size: pixels a side. NaN where there is nothing.
export function raster(field, view, size) {
  const { point, corner, value } = field;
  const out = new Float32Array(size * size).fill(NaN);
  const scale = size / (2 * view.reach);
  const left = view.x - view.reach;
  const top = view.y + view.reach;
  for (let t = 0; t < corner.length; t += 3) {
    const a = corner[t], b = corner[t + 1], c = corner[t + 2];
    const ax = (point[2 * a] - left) * scale - 0.5, ay = (top - point[2 * a + 1]) * scale - 0.5;
    const bx = (point[2 * b] - left) * scale - 0.5, by = (top - point[2 * b + 1]) * scale - 0.5;
    const cx = (point[2 * c] - left) * scale - 0.5, cy = (top - point[2 * c + 1]) * scale - 0.5;
    const area = (bx - ax) * (cy - ay) - (cx - ax) * (by - ay);
    if (area === 0) continue;
    const y0 = Math.max(0, Math.ceil(Math.min(ay, by, cy)));
    const y1 = Math.min(size - 1, Math.floor(Math.max(ay, by, cy)));
    const x0 = Math.max(0, Math.ceil(Math.min(ax, bx, cx)));
    const x1 = Math.min(size - 1, Math.floor(Math.max(ax, bx, cx)));
    const ub = (cy - ay) / area, vb = -(cx - ax) / area;
    const uc = -(by - ay) / area, vc = (bx - ax) / area;
    const va = value[a], db = value[b] - va, dc = value[c] - va;
    for (let y = y0; y <= y1; y++) {
      for (let x = x0; x <= x1; x++) {
        const wb = (x - ax) * ub + (y - ay) * vb;
        const wc = (x - ax) * uc + (y - ay) * vc;
        if (wb >= -1e-6 && wc >= -1e-6 && wb + wc <= 1.000001) out[y * size + x] = va + wb * db + wc * dc;
      }
    }
  }
  return out;
}

export function step(low, high, about = LINES) {
  const rough = ((high - low) / about) * 1.4;
  const power = 10 ** Math.floor(Math.log10(rough));
  return power * Math.max(...[1, 2, 5].filter((m) => m <= (rough / power) * (1 + 1e-9)));
}

const opaque = (r, g, b) => 0xff000000 | (b << 16) | (g << 8) | r; // bytes of a dot, as every browser's machine has them

// Paints values into a canvas of size x size, with isotherms; colours: [[r, g, b], ...] from low to high.
export function paint(canvas, values, low, high, colours) {
  const size = canvas.width;
  const image = new ImageData(size, size);
  const dots = new Uint32Array(image.data.buffer);
  const plain = colours.map((c) => opaque(...c));
  const pale = colours.map((c) => opaque(...c.map((part) => Math.round(0.35 * part + 165))));
  const last = colours.length - 1;
  const share = last / (high - low || 1);
  const between = step(low, high - low ? high : low + 1);
  const none = -(2 ** 31);
  const level = new Int32Array(values.length + size).fill(none); // of isotherms; none beyond the scale
  for (let i = 0; i < values.length; i++) {
    const v = values[i];
    if (v === v) level[i] = Math.floor((v < low ? low : v > high ? high : v) / between);
  }
  for (let i = 0; i < values.length; i++) {
    const own = level[i], right = level[i + 1], below = level[i + size];
    if (own === none) continue;
    const at = (values[i] - low) * share;
    const colour = at <= 0 ? 0 : at >= last ? last : (at + 0.5) | 0;
    const edge = (right !== own && right !== none) || (below !== own && below !== none);
    dots[i] = (edge ? pale : plain)[colour];
  }
  canvas.getContext("2d").putImageData(image, 0, 0);
}

export function extent(values) {
  let low = Infinity, high = -Infinity;
  for (const v of values) {
    if (v < low) low = v;
    if (v > high) high = v;
  }
  return [low, high];
}
