  // the still: built once for a way, then only moved ---------------------------------------------
  const stillView = (() => {
    const WIDE = 520, TALL = 748, potX = 128, potY = 604, R = 92, wall = 30; // wall: half of the column
    const colTop = 168, colBottom = 490, headTop = 58, arm = 116;
    const glassY = 578, glassTall = 100, glassWide = 36, full = 86, first = 282, apart = 46, tipY = 420, lift = 16;
    const FALL = 900; // px/s2 of a falling drop in the drawing, not to scale
    const DROPS = 9, STREAM = 600; // drops at a time; drops/min above which it is a stream
    let w = null, most = [], part = {}, was = new Map(), phase = 0, here = 0, surface = 0, rate = 0;

    // what a vessel holds: as wide as each substance's share, with its own hatch
    const bands = (name, y, h, more = {}) => d.names.map((_, k) => el("rect", { id: `${name}-${k}`, y, height: h, fill: `url(#p${k})`, ...more })).join("");
    const put = (id, at, value) => {
      const key = id + at;
      if (was.get(key) === value) return;
      was.set(key, value);
      (part[id] ??= byId(id)).setAttribute(at, value);
    };
    const say = (id, words) => {
      if (was.get(id) === words) return;
      was.set(id, words);
      (part[id] ??= byId(id)).textContent = words;
    };
    const fill = (name, x, wide, shares) => {
      let at = x;
      for (let k = 0; k < N; k++) {
        const share = shares ? wide * shares[k] : 0;
        put(`${name}-${k}`, "x", at.toFixed(1)); put(`${name}-${k}`, "width", Math.max(0, share).toFixed(1));
        at += share;
      }
    };
    const tall = (name, y, h) => { for (let k = 0; k < N; k++) { put(`${name}-${k}`, "y", y.toFixed(1)); put(`${name}-${k}`, "height", Math.max(0, h).toFixed(1)); } };
    const glass = (path, more = {}) => el("path", { d: path, fill: "none", stroke: INK, "stroke-width": 1.6, "stroke-linejoin": "round", ...more });

    function pot() {
      const neck = potY - Math.sqrt(R * R - 26 * 26);
      return el("clipPath", { id: "flask" }, el("circle", { cx: potX, cy: potY, r: R - 2 })) + el("g", { "clip-path": "url(#flask)" }, bands("pot", 0, 0) + el("line", { id: "level", x1: potX - R, x2: potX + R, stroke: INK }))
        + glass(`M${potX - 26} ${neck}A${R} ${R} 0 1 0 ${potX + 26} ${neck}`) + over(potX, potY + R - 20, "", { id: "potis", "text-anchor": "middle" })
        + text(potX, potY + R + 24, "", { id: "potat", "text-anchor": "middle", "font-weight": 700 })
        + glass(`M${potX - wall} ${colTop}V${colBottom + 6}L${potX - 26} ${neck}M${potX + 26} ${neck}L${potX + wall} ${colBottom + 6}V${colTop}`);
    }
    function column() {
      let out = "";
      const n = w.plates, h = step();
      for (let k = 1; k <= n; k++) {
        const floor = colBottom - (k - 1) * h - 2, x = k % 2 ? potX - wall : potX - wall + 8;
        out += bands(`s${k}`, floor, 0) + glass(`M${x} ${floor}H${x + 2 * wall - 8}V${floor - deep() - 2}`, { "stroke-width": 1.1 });
        out += over(potX + wall + 8, floor - deep() / 2 + 5, "", { id: `s${k}is`, "font-size": Math.min(14, h * 0.72) });
      }
      if (n) (w.held ? [`${n} ideal`, "plates", "hold"] : [`${n} plates:`, "what is", "on them", "is not", "known"]).forEach((said, k) => { out += text(potX - wall - 10, colTop + 22 + 17 * k, said, { "text-anchor": "end", fill: GREY, "font-size": 13 }); });
      return out + text(potX - wall - 10, colTop + 73, "", { id: "holds", "text-anchor": "end", "font-size": 13 });
    }
    const step = () => w.plates ? (colBottom - colTop) / w.plates : 0;
    const deep = () => Math.min(step() * 0.55, 18);
    // a glass tube along a path: its rim, and paper inside
    const tube = (path, wide, more = {}) => el("path", { d: path, fill: "none", stroke: INK, "stroke-width": wide, "stroke-linejoin": "round", ...more }) + el("path", { d: path, fill: "none", stroke: "#fff", "stroke-width": wide - 3, "stroke-linejoin": "round", ...(more.id ? { id: more.id + "in" } : {}) });
    function head() {
      const x = potX + wall - 1;
      return bands("head", headTop + 2, arm + 34 - headTop, { "fill-opacity": 0.6 })
        + glass(`M${potX - wall} ${colTop}V${headTop + 8}Q${potX - wall} ${headTop} ${potX - wall + 8} ${headTop}H${potX + wall - 8}Q${potX + wall} ${headTop} ${potX + wall} ${headTop + 8}V${colTop}`)
        + el("path", { d: `M${x + 17.5} ${arm + 37.7}l17 -29.4l74 43l-17 29.4z`, fill: "#fff", stroke: GREY })
        + tube(`M${x} ${arm + 8}L${first - 14} ${arm + 82}V${tipY - 60}`, 15)
        + text(242, arm + 30, "cold", { fill: GREY, "font-size": 13 }) + text(potX - wall - 10, arm + 4, "hot", { fill: GREY, "text-anchor": "end", "font-size": 13 })
        + line(potX, 20, potX, arm - 6, { "stroke-width": 5, stroke: "#fff" }) + line(potX, 20, potX, arm - 6, { "stroke-width": 2.4, stroke: GREY }) + el("circle", { cx: potX, cy: arm, r: 6, fill: INK, stroke: "#fff", "stroke-width": 2 })
        + text(potX + 12, 34, "", { id: "headat", "font-weight": 700 }) + over(potX, arm + 28, "", { id: "headis", "text-anchor": "middle" });
    }
    function receivers() {
      let out = "";
      for (let j = 0; j < d.fractions; j++) {
        const x = first + j * apart;
        out += el("g", { id: `r${j}` }, bands(`r${j}x`, 0, 0) + glass(`M${x} ${glassY}V${glassY + glassTall}H${x + glassWide}V${glassY}`, { id: `r${j}glass` }) + over(x + glassWide / 2, glassY + glassTall - 6, "", { id: `r${j}is`, "text-anchor": "middle" }));
        out += text(x + glassWide / 2, glassY + glassTall + 20, j + 1, { id: `r${j}n`, "text-anchor": "middle" });
      }
      return out + text(first, glassY + glassTall + 42, "receivers", { fill: GREY, "font-size": 13 });
    }
    function key() {
      let out = "";
      d.names.forEach((name, k) => { out += el("rect", { x: 300, y: 28 + 24 * k, width: 28, height: 16, fill: `url(#p${k})`, stroke: INK, "stroke-width": 0.6 }) + text(336, 41 + 24 * k, name); });
      return out + text(300, 41 + 24 * N, `numbers: mol % ${WANTED}`, { fill: GREY, "font-size": 13 });
    }
    const ADAPTER = `M${first - 14} ${tipY - 64}V${tipY - 30}H${first}V${tipY}`;
    function build(chosen) {
      w = chosen; part = {}; was = new Map();
      most = (w.held ? w.held[0] : []).map((_, k) => Math.max(1e-9, ...w.held.map((held) => held[k])));
      const drops = Array.from({ length: DROPS }, (_, k) => el("circle", { id: `drop${k || ""}`, r: 5, fill: INK, visibility: "hidden" })).join("");
      const body = hatches() + pot() + column() + head() + receivers() + tube(ADAPTER, 13, { id: "adapter" }) + el("line", { id: "stream", stroke: INK, "stroke-width": 2, visibility: "hidden" }) + drops
        + text(WIDE - 6, arm + 92, "", { id: "rate", "text-anchor": "end", "font-weight": 700 }) + text(WIDE - 6, arm + 112, "", { id: "dripis", "text-anchor": "end" }) + key();
      byId("still").innerHTML = svg(WIDE, TALL, "", body);
    }

    // height of the liquid in a ball, as a share of its diameter, for a filled share
    function ballLevel(share) {
      let lo = 0, hi = 1;
      for (let k = 0; k < 30; k++) { const h = (lo + hi) / 2; if (h * h * (3 - 2 * h) < share) lo = h; else hi = h; }
      return lo;
    }
    const overAt = (volume) => {
      let j = w.v.findIndex((v) => v >= volume);
      if (j < 0) j = w.v.length - 1;
      if (j === 0) return w.over[0];
      const span = w.v[j] - w.v[j - 1];
      return mix(w.over[j - 1], w.over[j], span > 0 ? (volume - w.v[j - 1]) / span : 1);
    };
    function paintReceivers(s) {
      here = Math.min(d.fractions - 1, Math.floor(s.v / d.each + 1e-9));
      for (let j = 0; j < d.fractions; j++) {
        const from = j * d.each, to = Math.min(s.v, j === d.fractions - 1 ? s.v : from + d.each), held = to - from;
        const h = held > 0 ? full * Math.min(1.1, held / d.each) : 0, x = first + j * apart, active = j === here;
        let shares = null;
        if (held > 0) {
          const a = overAt(from), b = overAt(to), mol = b.map((v, c) => Math.max(0, v - a[c])), sum = mol.reduce((p, q) => p + q, 0);
          shares = sum > 0 ? mol.map((v) => v / sum) : null;
        }
        fill(`r${j}x`, x + 1, glassWide - 2, shares); tall(`r${j}x`, glassY + glassTall - h, h);
        say(`r${j}is`, shares ? pct(shares[d.wanted]) : "");
        say(`r${j}n`, `${active ? "▲ " : ""}${j + 1}`);
        put(`r${j}`, "transform", active ? `translate(0 ${-lift})` : "translate(0 0)");
        put(`r${j}glass`, "stroke-width", active ? 2.6 : 1.2);
        if (active) surface = glassY - lift + glassTall - h;
      }
    }
    function paint(s) {
      const boils = s.stages !== null, h = 2 * (R - 2) * ballLevel(Math.min(0.98, s.left / d.flask)), top = potY + R - 2 - h;
      fill("pot", potX - R, 2 * R, s.pot); tall("pot", top, h);
      put("level", "y1", top.toFixed(1)); put("level", "y2", top.toFixed(1));
      say("potis", `${pct(s.pot[d.wanted])} mol %`); say("potat", `pot ${s.potC.toFixed(1)} °C, ${s.left.toFixed(0)} mL`);
      for (let k = 1; k <= w.plates; k++) {
        const floor = colBottom - (k - 1) * step() - 3, h = !boils ? 0 : deep() * Math.min(1, s.held[k - 1] / most[k - 1]);
        fill(`s${k}`, potX - wall + 1, 2 * wall - 2, boils ? s.stages[k] : null); tall(`s${k}`, floor - h, h);
        say(`s${k}is`, boils ? pct(s.stages[k][d.wanted]) : "");
      }
      if (w.plates && w.held) say("holds", `${s.held.reduce((a, b) => a + b, 0).toFixed(1)} mL`);
      const comes = s.drip && s.drops > 0.5;
      fill("head", potX - wall + 1, 2 * wall - 2, comes ? s.drip : null);
      say("headat", `head ${s.head.toFixed(1)} °C`); say("headis", comes ? pct(s.drip[d.wanted]) : "");
      say("rate", comes ? `${s.drops.toFixed(0)} drops a minute` : "no drops");
      say("dripis", comes ? `of ${pct(s.drip[d.wanted])} mol % ${WANTED}` : "");
      paintReceivers(s);
      const x = first + here * apart + glassWide / 2;
      const to = `M${first - 14} ${tipY - 64}V${tipY - 30}H${x}V${tipY}`;
      put("adapter", "d", to); put("adapterin", "d", to);
      rate = comes ? s.drops : 0;
      if (calm) fall(0);
    }
    // drops let go as often as was calculated, whatever the pace of the run
    function fall(seconds) {
      const x = first + here * apart + glassWide / 2, stream = rate > STREAM, each = rate > 0 ? 60 / rate : 1;
      phase = (phase + seconds / each) % 1;
      put("stream", "visibility", stream ? "visible" : "hidden");
      if (stream) { put("stream", "x1", x); put("stream", "x2", x); put("stream", "y1", tipY); put("stream", "y2", surface); }
      for (let k = 0; k < DROPS; k++) {
        const id = `drop${k || ""}`, age = (phase + k - 1) * each; // number 0 still hangs and grows
        const y = k === 0 ? tipY + 5 : tipY + 5 + FALL * age * age;
        const seen = rate > 0 && !stream && (k === 0 || (y < surface && !calm));
        put(id, "visibility", seen ? "visible" : "hidden");
        if (!seen) continue;
        put(id, "cx", x); put(id, "cy", y.toFixed(1)); put(id, "r", k === 0 && !calm ? (5 * Math.cbrt(phase)).toFixed(1) : 5);
      }
    }
    const label = (words) => named("still", "Still with pot, column, head and receivers: " + words);
    return { build, paint, fall, label };
  })();
