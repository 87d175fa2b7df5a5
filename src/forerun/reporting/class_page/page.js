  const d = JSON.parse(document.getElementById("data").textContent);
  const byId = (id) => document.getElementById(id);
  const INK = "#1A1A1A", GREY = "#55595E", PALE = "#D9DBDE";
  const PENS = ["#0072B2", "#D55E00", "#009E73", "#1A1A1A", "#8A5A00", "#55595E"];
  const DASH = ["", "10 4", "3 3", "12 3 3 3", "6 2", "2 5"];
  const calm = matchMedia("(prefers-reduced-motion: reduce)").matches;
  let way = 0, moment = 0, axis = "v", running = false, shown = 99;

  const esc = (s) => String(s).replace(/[&<>"]/g, (c) => ({ "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;" })[c]);
  const el = (name, at, inside = "") => `<${name}${Object.entries(at).map(([k, v]) => ` ${k}="${esc(v)}"`).join("")}>${inside}</${name}>`;
  const text = (x, y, s, more = {}) => el("text", { x, y, "font-size": 14, fill: INK, ...more }, esc(s));
  const line = (x1, y1, x2, y2, more = {}) => el("line", { x1, y1, x2, y2, stroke: INK, ...more });
  const path = (xs, ys, more) => {
    let out = "", up = true;
    xs.forEach((x, k) => {
      if (x === null || ys[k] === null || Number.isNaN(ys[k])) { up = true; return; }
      out += (up ? "M" : "L") + x.toFixed(1) + " " + ys[k].toFixed(1); up = false;
    });
    return el("path", { d: out, fill: "none", "stroke-width": 2, ...more });
  };
  const svg = (w, h, label, body) => `<svg viewBox="0 0 ${w} ${h}" role="img" aria-label="${esc(label)}"><defs>${hatches()}</defs>${body}</svg>`;
  const hatches = () => d.names.map((_, k) => el("pattern", { id: "p" + k, width: 8, height: 8, patternUnits: "userSpaceOnUse", patternTransform: `rotate(${[45, -45, 0, 90, 20, 70][k]})` },
    el("rect", { width: 8, height: 8, fill: "#fff" }) + el("rect", { width: [3, 1.4, 4.5, 2, 1, 5][k], height: 8, fill: PENS[k] }))).join("");
  const ticks = (lo, hi, n) => {
    const raw = (hi - lo) / n, p = 10 ** Math.floor(Math.log10(raw));
    const step = [1, 2, 5, 10].map((m) => m * p).find((s) => s >= raw), out = [];
    for (let v = Math.ceil(lo / step) * step; v <= hi + 1e-9; v += step) out.push(+v.toFixed(6));
    return out;
  };
  const scale = (lo, hi, a, b) => (v) => a + (b - a) * (v - lo) / (hi - lo);
  const pct = (f) => f === null || Number.isNaN(f) ? "–" : (100 * f).toFixed(f > 0.995 || f < 0.005 ? 1 : 0);

  // side by side ------------------------------------------------------------------------------
  const sideWidth = 1000, sideHeight = 470, left = 50, right = 770, top = 20, bottom = 420;
  const all = d.ways.flatMap((w) => w.head.filter((_, k) => w.v[k] > 0)).concat(d.stairs.map((s) => s.c));
  const low = Math.min(...all) - 5, high = Math.max(...all) + 3;
  const over = { v: Math.max(...d.ways.map((w) => w.v.at(-1)), d.stairs.at(-1).end), t: Math.max(...d.ways.map((w) => w.t.at(-1))) };
  const up = scale(low, high, bottom, top);
  const across = (v) => scale(0, over[axis], left, right)(v);
  function side() {
    let body = "";
    ticks(low, high, 7).forEach((v) => { body += line(left, up(v), right, up(v), { stroke: PALE }) + text(left - 8, up(v) + 5, v, { "text-anchor": "end", fill: GREY }); });
    ticks(0, over[axis], 8).forEach((v) => { body += line(across(v), bottom, across(v), bottom + 5) + text(across(v), bottom + 22, v, { "text-anchor": "middle", fill: GREY }); });
    body += line(left, bottom, right, bottom) + text(right, bottom + 42, axis === "v" ? "mL collected" : "minutes since heating began", { "text-anchor": "end", fill: GREY });
    if (axis === "v") {
      const xs = [], ys = [];
      d.stairs.forEach((s) => { xs.push(across(s.start), across(s.end)); ys.push(up(s.c), up(s.c)); });
      body += path(xs, ys, { stroke: GREY, "stroke-width": 1.5, "stroke-dasharray": "1 4" });
    }
    const ends = d.ways.map((w, k) => ({ k, y: up(w.head.at(-1)) })).sort((a, b) => a.y - b.y);
    if (axis === "v") ends.push({ k: -1, y: up(d.stairs.at(-1).c) });
    ends.sort((a, b) => a.y - b.y);
    for (let k = 1; k < ends.length; k++) ends[k].y = Math.max(ends[k].y, ends[k - 1].y + 19);
    const spill = Math.max(0, (ends.at(-1)?.y ?? 0) - bottom);
    ends.forEach((e) => { e.y -= spill; });
    d.ways.forEach((w, k) => {
      const keep = w.t.map((_, j) => w.v[j] > 0);
      const xs = w[axis].map((v, j) => keep[j] ? across(v) : null), ys = w.head.map((v, j) => keep[j] ? up(v) : null);
      body += path(xs, ys, { stroke: PENS[k], "stroke-dasharray": DASH[k], "stroke-width": k === way ? 3.5 : 1.8 });
    });
    ends.forEach((e) => {
      const w = d.ways[e.k], x = w ? across(w[axis].at(-1)) : across(over.v), y = w ? up(w.head.at(-1)) : up(d.stairs.at(-1).c);
      body += line(x + 4, y, 800, e.y, { stroke: PALE }) + line(804, e.y, 830, e.y, { stroke: w ? PENS[e.k] : GREY, "stroke-width": e.k === way ? 3.5 : 1.8, "stroke-dasharray": w ? DASH[e.k] : "1 4" });
      body += text(836, e.y + 5, w ? w.short : "stair people draw", { "font-weight": e.k === way ? 700 : 400, "font-size": 13 });
    });
    const w = d.ways[way], x = across(w[axis][moment]);
    body += line(x, top, x, bottom, { stroke: INK, "stroke-dasharray": "2 3" });
    if (w.head[moment] >= low) body += el("circle", { cx: x, cy: up(w.head[moment]), r: 6, fill: "#fff", stroke: INK, "stroke-width": 2 });
    byId("side").innerHTML = svg(sideWidth, sideHeight, d.finding, body);
  }

  // the still ---------------------------------------------------------------------------------
  // what a vessel holds: as wide as each substance's share, with its own hatch
  const shares = (x, y, w, h, x0) => {
    let at = x, out = "";
    (x0 || []).forEach((f, k) => { out += el("rect", { x: at, y, width: Math.max(0, w * f), height: h, fill: `url(#p${k})`, "fill-opacity": 0.55 }); at += w * f; });
    return out;
  };
  const plate = (x, y, s, anchor = "middle") => text(x, y, s, { "text-anchor": anchor, "font-size": 13, "font-weight": 600, stroke: "#fff", "stroke-width": 4, "paint-order": "stroke" });
  const overAt = (w, volume, k) => {
    let j = w.v.findIndex((v) => v >= volume); if (j < 0) j = w.v.length - 1; if (j === 0) return w.over[0][k];
    const span = w.v[j] - w.v[j - 1], f = span > 0 ? (volume - w.v[j - 1]) / span : 1;
    return w.over[j - 1][k] + f * (w.over[j][k] - w.over[j - 1][k]);
  };
  function receivers(w, m) {
    let out = "";
    for (let k = 0; k < d.fractions; k++) {
      const a = k * d.each, b = Math.min(w.v[m], (k + 1) * d.each), x = 300 + k * 58, held = Math.max(0, b - a);
      const here = w.v[m] >= a && w.v[m] < a + d.each || k === d.fractions - 1 && w.v[m] >= a;
      const y = here ? 430 : 450, h = 70 * Math.min(1, held / d.each);
      if (held > 0) {
        const mol = d.names.map((_, c) => overAt(w, b, c) - overAt(w, a, c)), sum = mol.reduce((p, q) => p + q, 0);
        const f = mol.map((v) => sum > 0 ? Math.max(0, v / sum) : 0);
        out += shares(x, y + 80 - h, 44, h, f) + plate(x + 22, y + 76, pct(f[d.wanted]));
      }
      out += el("path", { d: `M${x} ${y}V${y + 80}H${x + 44}V${y}`, fill: "none", stroke: INK, "stroke-width": here ? 2.5 : 1 }) + text(x + 22, y + 98, (here ? "▲ " : "") + (k + 1), { "text-anchor": "middle" });
    }
    return out;
  }
  function still() {
    const w = d.ways[way], m = moment, n = w.plates, stages = w.stages[m];
    const potX = 130, potY = 440, r = 78, colTop = 120, colBottom = 345;
    const level = Math.max(0.03, Math.min(1, 1 - w.v[m] / d.charge)) * 1.1 * r, boil = stages !== null;
    let body = el("clipPath", { id: "flask" }, el("circle", { cx: potX, cy: potY, r: r - 3 }));
    body += el("g", { "clip-path": "url(#flask)" }, shares(potX - r, potY + r - level, 2 * r, level, w.pot[m]));
    body += el("circle", { cx: potX, cy: potY, r, fill: "none", stroke: INK, "stroke-width": 1.5 }) + plate(potX, potY + r - 14, pct(w.pot[m][d.wanted]) + " mol %");
    body += text(potX, potY + r + 22, `pot ${w.potC[m].toFixed(1)} °C`, { "text-anchor": "middle" });
    body += el("path", { d: `M105 ${potY - 73}V60H155V90M155 112V${potY - 73}`, fill: "none", stroke: INK, "stroke-width": 1.5 });
    if (n) {
      const h = (colBottom - colTop) / n;
      for (let k = 1; k <= n; k++) {
        const y = colBottom - k * h;
        if (boil) body += shares(107, y + h * 0.45, 46, h * 0.5, stages[k]);
        body += line(105, y + h * 0.95, 155, y + h * 0.95, { "stroke-width": 1 });
        if (boil && h >= 17) body += plate(164, y + h * 0.82, pct(stages[k][d.wanted]), "start");
        else if (boil && (k === 1 || k === n || k % 2 === 0)) body += plate(164, y + h * 0.9, pct(stages[k][d.wanted]), "start");
      }
      body += text(98, (colTop + colBottom) / 2, `${n} plates`, { "text-anchor": "end", fill: GREY });
    }
    body += line(130, 30, 130, 98, { "stroke-width": 4, stroke: GREY }) + el("circle", { cx: 130, cy: 100, r: 5, fill: INK }) + text(142, 34, `head ${w.head[m].toFixed(1)} °C`, { "font-weight": 700 });
    body += el("path", { d: "M155 90L318 180V200L155 112", fill: "#fff", stroke: INK, "stroke-width": 1.5 }) + el("path", { d: "M185 92L300 156M180 138L290 199", stroke: GREY, fill: "none" });
    body += text(250, 120, "cold", { fill: GREY });
    const rate = w.drops[m], at = Math.min(d.fractions - 1, Math.floor(w.v[m] / d.each));
    const x = 322 + at * 58;
    body += el("path", { d: `M318 190H${x}V215`, fill: "none", stroke: INK, "stroke-width": 1.5 });
    body += el("circle", { id: "drop", cx: x, cy: 222, r: 5, fill: INK, visibility: rate > 0.5 ? "visible" : "hidden" });
    body += text(600, 170, rate > 0.5 ? `${rate.toFixed(0)} drops/min` : "no drops", { "text-anchor": "end", "font-weight": 700 });
    if (w.drip[m]) body += text(600, 150, `drips ${pct(w.drip[m][d.wanted])} mol % ${d.names[d.wanted]}`, { "text-anchor": "end" });
    body += receivers(w, m) + text(300, 567, "receivers", { fill: GREY });
    d.names.forEach((name, k) => { body += el("rect", { x: 300 + 0, y: 262 + 24 * k, width: 30, height: 16, fill: `url(#p${k})`, stroke: INK, "stroke-width": 0.6, "fill-opacity": 0.7 }) + text(338, 275 + 24 * k, name); });
    body += text(300, 275 + 24 * d.names.length, `numbers: mol % ${d.names[d.wanted]}`, { fill: GREY });
    byId("still").innerHTML = svg(620, 570, "Still with pot, column, head and receivers: " + momentWords(), body);
  }

  // boiling diagram ---------------------------------------------------------------------------
  function boiling() {
    if (!d.diagram) { byId("boiling").innerHTML = amounts(); byId("stepping").hidden = true; return; }
    const g = d.diagram, w = d.ways[way], lo = Math.min(...g.c) - 2, hi = Math.max(...g.c) + 2;
    const X = scale(0, 100, 60, 590), Y = scale(lo, hi, 500, 30);
    let body = "";
    ticks(lo, hi, 7).forEach((v) => { body += line(60, Y(v), 590, Y(v), { stroke: PALE }) + text(52, Y(v) + 5, v, { "text-anchor": "end", fill: GREY }); });
    ticks(0, 100, 5).forEach((v) => { body += line(X(v), 500, X(v), 505) + text(X(v), 522, v, { "text-anchor": "middle", fill: GREY }); });
    body += line(60, 500, 590, 500) + text(590, 545, `mol % ${d.names[d.wanted]}`, { "text-anchor": "end", fill: GREY }) + text(60, 20, "°C", { fill: GREY });
    body += path(g.x.map((v) => X(100 * v)), g.c.map(Y), { stroke: PENS[0] }) + path(g.y.map((v) => X(100 * v)), g.c.map(Y), { stroke: PENS[1], "stroke-dasharray": "8 4" });
    const mid = Math.floor(g.x.length * 0.5);
    body += text(X(100 * g.x[mid]) - 10, Y(g.c[mid]) + 20, "liquid", { "text-anchor": "end" }) + text(X(100 * g.y[mid]) + 10, Y(g.c[mid]) - 10, "vapour");
    const stages = w.stages[moment];
    if (stages) {
      const T = w.stageC[moment], f = stages.map((s) => s[d.wanted]), end = w.vapour[moment];
      f.forEach((x, k) => {
        const y = k + 1 < f.length ? w.rise[moment][k] : end;
        body += line(X(100 * x), Y(T[k]), X(100 * y), Y(T[k]), { "stroke-width": 1.4 });
        if (k + 1 < f.length) body += line(X(100 * y), Y(T[k]), X(100 * f[k + 1]), Y(T[k + 1]), { "stroke-width": 1, "stroke-dasharray": "2 3" });
        body += el("circle", { cx: X(100 * x), cy: Y(T[k]), r: k ? 3.5 : 7, fill: k ? "#fff" : INK, stroke: INK });
      });
      body += plate(X(100 * f[0]), Y(T[0]) + 26, `pot ${pct(f[0])}`);
      body += el("path", { d: `M${X(100 * end)} ${Y(T.at(-1)) - 8}l7 8l-7 8l-7-8z`, fill: "#fff", stroke: INK, "stroke-width": 2 }) + plate(X(100 * end), Y(T.at(-1)) - 14, `vapour ${pct(end)}`);
    }
    byId("boiling").innerHTML = svg(620, 570, "Boiling diagram with the pot and the vapour at this moment: " + momentWords(), body);
    steps();
  }
  function amounts() {
    const w = d.ways[way], drip = w.drip[moment]; let body = text(20, 30, "pot", { "font-weight": 700 }) + text(320, 30, "what drips", { "font-weight": 700 });
    d.names.forEach((name, k) => {
      const y = 60 + 56 * k;
      [[20, w.pot[moment]], [320, drip]].forEach(([x, f]) => { if (f) body += text(x, y, `${name}: ${pct(f[k])} mol %`) + el("rect", { x, y: y + 6, width: 260 * f[k], height: 18, fill: `url(#p${k})`, stroke: INK, "stroke-width": 0.6 }); });
    });
    return svg(620, 80 + 56 * d.names.length, "What pot and drops are made of: " + momentWords(), body);
  }
  // plate by plate: equilibrium line and the way up
  function steps() {
    const g = d.diagram, w = d.ways[way], stages = w.stages[moment];
    const X = scale(0, 100, 60, 560), Y = scale(0, 100, 520, 20);
    let body = "";
    ticks(0, 100, 5).forEach((v) => { body += line(X(v), 520, X(v), 525) + text(X(v), 542, v, { "text-anchor": "middle", fill: GREY }) + line(60, Y(v), 560, Y(v), { stroke: PALE }) + text(52, Y(v) + 5, v, { "text-anchor": "end", fill: GREY }); });
    body += line(X(0), Y(0), X(100), Y(100), { stroke: GREY, "stroke-dasharray": "3 3" }) + path(g.x.map((v) => X(100 * v)), g.y.map((v) => Y(100 * v)), { stroke: PENS[1] });
    body += text(560, 562, `mol % ${d.names[d.wanted]} in the liquid`, { "text-anchor": "end", fill: GREY }) + text(66, 16, "in the vapour", { fill: GREY });
    let said = "Nothing boils yet.";
    if (stages) {
      const f = stages.map((s) => s[d.wanted]), rise = w.rise[moment].concat([w.vapour[moment]]), n = Math.min(shown, f.length);
      for (let k = 0; k < n; k++) {
        body += line(X(100 * f[k]), Y(k ? 100 * rise[k - 1] : 0), X(100 * f[k]), Y(100 * rise[k]), { "stroke-width": 1.8 });
        body += el("circle", { cx: X(100 * f[k]), cy: Y(100 * rise[k]), r: 4, fill: "#fff", stroke: INK });
        if (f.length <= 7) body += plate(X(100 * f[k]) - 8, Y(100 * rise[k]) - 8, k ? `plate ${k}` : "pot", "end");
        if (k + 1 < n) body += line(X(100 * f[k]), Y(100 * rise[k]), X(100 * f[k + 1]), Y(100 * rise[k]), { "stroke-width": 1.8 });
      }
      said = n > 1 ? `Pot and ${n - 1} plate${n > 2 ? "s" : ""}: from ${pct(f[0])} in the pot to ${pct(rise[n - 1])} mol % in the vapour.` : `Pot alone: ${pct(f[0])} in the liquid, ${pct(rise[0])} mol % in the vapour.`;
    }
    byId("stepsaid").textContent = said;
    byId("steps").innerHTML = svg(760, 570, "Plate by plate: " + said, body);
  }

  // one moment in all views -------------------------------------------------------------------
  function momentWords() {
    const w = d.ways[way], m = moment;
    const parts = [`${w.label}, ${w.t[m].toFixed(0)} min: ${w.v[m].toFixed(1)} mL over, head ${w.head[m].toFixed(1)} °C, pot ${w.potC[m].toFixed(1)} °C with ${pct(w.pot[m][d.wanted])} mol % ${d.names[d.wanted]}`];
    if (w.drip[m] && w.drops[m] > 0.5) parts.push(`${pct(w.drip[m][d.wanted])} mol % drips`);
    return parts.join(", ") + ".";
  }
  function show() {
    side(); still(); boiling();
    const when = byId("when");
    when.max = d.ways[way].t.length - 1; when.value = moment; when.setAttribute("aria-valuetext", momentWords());
    byId("says").setAttribute("aria-live", running ? "off" : "polite");
    byId("says").textContent = momentWords();
  }
  const nearest = (list, value) => { let best = 0; list.forEach((v, k) => { if (Math.abs(v - value) < Math.abs(list[best] - value)) best = k; }); return best; };
  const go = (k) => { moment = Math.max(0, Math.min(d.ways[way].t.length - 1, k)); show(); };
  byId("ways").innerHTML = d.ways.map((w, k) => `<label><input type="radio" name="way" value="${k}"${k ? "" : " checked"}> ${esc(w.label)}</label>`).join("");
  byId("ways").addEventListener("change", (e) => { const at = d.ways[way].v[moment]; way = +e.target.value; moment = nearest(d.ways[way].v, at); shown = 99; show(); });
  document.querySelectorAll("[name=axis]").forEach((i) => i.addEventListener("change", () => { axis = i.value; side(); }));
  byId("when").addEventListener("input", (e) => go(+e.target.value));
  byId("back").addEventListener("click", () => go(moment - 1));
  byId("on").addEventListener("click", () => go(moment + 1));
  byId("less").addEventListener("click", () => { shown = Math.max(1, Math.min(shown, d.ways[way].plates + 1) - 1); steps(); });
  byId("more").addEventListener("click", () => { shown = Math.min(shown + 1, d.ways[way].plates + 1); steps(); });
  byId("side").addEventListener("click", (e) => {
    const box = byId("side").firstChild.getBoundingClientRect(), x = (e.clientX - box.left) * sideWidth / box.width;
    go(nearest(d.ways[way][axis], (x - left) / (right - left) * over[axis]));
  });
  addEventListener("beforeprint", () => document.querySelectorAll("details").forEach((fold) => { fold.open = true; }));
  let before = 0, clock = 0, phase = 0;
  function run(on) { running = on; byId("play").setAttribute("aria-pressed", on); byId("play").textContent = on ? "Hold" : "Run"; if (on) clock = d.ways[way].t[moment]; show(); }
  byId("play").addEventListener("click", () => { if (!running && moment >= d.ways[way].t.length - 1) moment = 0; run(!running); });
  function frame(now) {
    const dt = Math.min(0.1, (now - before) / 1000); before = now;
    const w = d.ways[way];
    if (running) {
      clock += dt;
      let k = moment; while (k + 1 < w.t.length && w.t[k + 1] <= clock) k++;
      if (k !== moment) { moment = k; show(); }
      if (k >= w.t.length - 1) run(false);
    }
    const drop = byId("drop");
    if (drop && !calm && w.drops[moment] > 0.5) {
      phase = (phase + dt * w.drops[moment] / 60) % 1;
      const fall = phase * 60 / w.drops[moment]; // s since the drop let go
      drop.setAttribute("cy", Math.min(425, 222 + 900 * fall * fall));
      drop.setAttribute("visibility", 222 + 900 * fall * fall > 425 ? "hidden" : "visible");
    }
    requestAnimationFrame(frame);
  }
  moment = Math.max(0, d.ways[0].v.findIndex((v) => v > 0.1 * d.charge));
  show();
  requestAnimationFrame(frame);
  document.documentElement.dataset.ready = "true";
