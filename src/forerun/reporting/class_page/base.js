  // what all drawings use ---------------------------------------------------------------------
  const d = JSON.parse(document.getElementById("data").textContent);
  const byId = (id) => document.getElementById(id);
  const INK = "#1A1A1A", GREY = "#55595E", PALE = "#D9DBDE";
  const PENS = ["#0072B2", "#D55E00", "#009E73", "#1A1A1A", "#8A5A00", "#55595E"];
  const DASH = ["", "10 4", "3 3", "12 3 3 3", "6 2", "2 5"];
  const calm = matchMedia("(prefers-reduced-motion: reduce)").matches;
  const N = d.names.length, WANTED = d.names[d.wanted];

  const esc = (s) => String(s).replace(/[&<>"]/g, (c) => ({ "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;" })[c]);
  const el = (name, at, inside = "") => `<${name}${Object.entries(at).map(([k, v]) => ` ${k}="${esc(v)}"`).join("")}>${inside}</${name}>`;
  const text = (x, y, s, more = {}) => el("text", { x, y, "font-size": 14, fill: INK, ...more }, esc(s));
  const line = (x1, y1, x2, y2, more = {}) => el("line", { x1, y1, x2, y2, stroke: INK, ...more });
  // words over a drawing stand in a rim of paper
  const over = (x, y, s, more = {}) => text(x, y, s, { "font-weight": 600, stroke: "#fff", "stroke-width": 4, "paint-order": "stroke", ...more });
  const path = (xs, ys, more) => {
    let out = "", up = true;
    xs.forEach((x, k) => {
      if (x === null || ys[k] === null || Number.isNaN(ys[k])) { up = true; return; }
      out += (up ? "M" : "L") + x.toFixed(1) + " " + ys[k].toFixed(1); up = false;
    });
    return el("path", { d: out, fill: "none", "stroke-width": 2, ...more });
  };
  const svg = (w, h, label, body) => `<svg viewBox="0 0 ${w} ${h}" role="img" aria-label="${esc(label)}">${body}</svg>`;
  const named = (host, label) => byId(host).firstElementChild.setAttribute("aria-label", label);
  const hatches = () => `<defs>${d.names.map((_, k) => el("pattern", { id: "p" + k, width: 8, height: 8, patternUnits: "userSpaceOnUse", patternTransform: `rotate(${[45, -45, 0, 90, 20, 70][k]})` },
    el("rect", { width: 8, height: 8, fill: "#fff" }) + el("rect", { width: 8, height: 8, fill: PENS[k], "fill-opacity": 0.18 }) + el("rect", { width: [2.6, 1.2, 4, 2, 1, 5][k], height: 8, fill: PENS[k], "fill-opacity": 0.75 }))).join("")}</defs>`;
  const ticks = (lo, hi, n) => {
    const raw = (hi - lo) / n, p = 10 ** Math.floor(Math.log10(raw));
    const step = [1, 2, 5, 10].map((m) => m * p).find((s) => s >= raw), out = [];
    for (let v = Math.ceil(lo / step) * step; v <= hi + 1e-9; v += step) out.push(+v.toFixed(6));
    return out;
  };
  const scale = (lo, hi, a, b) => (v) => a + (b - a) * (v - lo) / (hi - lo);
  // only what is pure is shown as 100, and only nothing as 0: as format_per_cent has it
  const pct = (f) => {
    if (f === null || f === undefined || Number.isNaN(f)) return "–";
    if (!(f > 1e-12 && f < 1 - 1e-12)) return (100 * f).toFixed(0);
    const shown = [0, 1, 2].map((digits) => (100 * f).toFixed(digits)).find((text) => +text > 0 && +text < 100);
    return shown ?? (f > 0.5 ? ">99.99" : "<0.01");
  };
  const nearest = (list, value) => { let best = 0; list.forEach((v, k) => { if (Math.abs(v - value) < Math.abs(list[best] - value)) best = k; }); return best; };

  // between two calculated moments everything goes straight; what is missing at one of them stays
  const mix = (a, b, f) => {
    if (a === null || b === null || a === undefined || b === undefined) return a;
    if (Array.isArray(a)) return a.length === b.length ? a.map((v, k) => mix(v, b[k], f)) : a;
    return a + f * (b - a);
  };
  const FIELDS = ["v", "head", "potC", "left", "pot", "drip", "drops", "over", "held", "stages", "rise", "stageC"];
  function stateAt(w, minutes) {
    const last = w.t.length - 1;
    let k = 0, high = last;
    while (k < high) { const mid = (k + high + 1) >> 1; if (w.t[mid] <= minutes) k = mid; else high = mid - 1; }
    const next = Math.min(last, k + 1), span = w.t[next] - w.t[k];
    const f = span > 0 ? Math.min(1, Math.max(0, (minutes - w.t[k]) / span)) : 0;
    const found = { k, t: Math.min(Math.max(minutes, w.t[0]), w.t[last]) };
    FIELDS.forEach((name) => { found[name] = w[name] ? mix(w[name][k], w[name][next], f) : null; });
    return found;
  }
  function momentWords(w, s) {
    const parts = [`${w.label}, ${s.t.toFixed(0)} min: ${s.v.toFixed(1)} mL over, head ${s.head.toFixed(1)} °C, pot ${s.potC.toFixed(1)} °C with ${pct(s.pot[d.wanted])} mol % ${WANTED}`];
    if (s.drip && s.drops > 0.5) parts.push(`${pct(s.drip[d.wanted])} mol % drips`);
    return parts.join(", ") + ".";
  }
