  // boiling diagram and steps: curves drawn once, marks of the moment over them --------------------
  const diagrams = (() => {
    const g = d.diagram, WIDE = 460, TALL = 380, left = 44, right = 446, top = 26, bottom = 334;
    const X = scale(0, 100, left, right);
    const lo = g ? Math.min(...g.c) - 2 : 0, hi = g ? Math.max(...g.c) + 2 : 1;
    const Y = scale(lo, hi, bottom, top), V = scale(0, 100, bottom, top);
    const frame = (below) => ticks(0, 100, 5).map((v) => line(X(v), bottom, X(v), bottom + 5) + text(X(v), bottom + 20, v, { "text-anchor": "middle", fill: GREY, "font-size": 13 })).join("") + line(left, bottom, right, bottom) + text(right, bottom + 38, below, { "text-anchor": "end", fill: GREY, "font-size": 13 });
    const rung = (y, v) => line(left, y, right, y, { stroke: PALE }) + text(left - 7, y + 5, v, { "text-anchor": "end", fill: GREY, "font-size": 13 });

    function build() {
      if (!g) {
        byId("boiling").innerHTML = svg(WIDE, 62 + 58 * N, "", el("g", { id: "bmoment" }));
        byId("stepping").hidden = true;
        byId("views").classList.add("few");
        return;
      }
      let body = ticks(lo, hi, 6).map((v) => rung(Y(v), v)).join("") + frame(`mol % ${WANTED}`) + text(left, 16, "boils at, °C", { fill: GREY, "font-size": 13 });
      body += path(g.x.map((v) => X(100 * v)), g.c.map(Y), { stroke: PENS[0] }) + path(g.y.map((v) => X(100 * v)), g.c.map(Y), { stroke: PENS[1], "stroke-dasharray": "8 4" });
      const up = g.c.at(-1) > g.c[0], k = Math.floor(g.x.length * (up ? 0.72 : 0.28)), liquidX = X(100 * g.x[k]), vapourX = X(100 * g.y[k]);
      const side = liquidX < vapourX ? -1 : 1, anchor = (s) => s < 0 ? "end" : "start";
      body += over(liquidX + 9 * side, Y(g.c[k]) + 16, "liquid", { "text-anchor": anchor(side), "font-size": 13, "font-weight": 400, fill: PENS[0] }) + over(vapourX - 9 * side, Y(g.c[k]) - 6, "vapour", { "text-anchor": anchor(-side), "font-size": 13, "font-weight": 400, fill: "#B84E00" });
      byId("boiling").innerHTML = svg(WIDE, TALL, "", body + el("g", { id: "bghost" }) + el("g", { id: "bmoment" }));
      body = ticks(0, 100, 5).map((v) => rung(V(v), v)).join("") + frame(`mol % ${WANTED} in the liquid`) + text(left, 16, "in the vapour", { fill: GREY, "font-size": 13 });
      body += line(X(0), V(0), X(100), V(100), { stroke: GREY, "stroke-dasharray": "3 3" }) + path(g.x.map((v) => X(100 * v)), g.y.map((v) => V(100 * v)), { stroke: PENS[1] });
      byId("steps").innerHTML = svg(WIDE, TALL, "", body + el("g", { id: "smoment" }));
    }
    const diamond = (x, y, more = {}) => el("path", { d: `M${x} ${y - 7}l7 7l-7 7l-7-7z`, fill: "#fff", stroke: INK, "stroke-width": 2, ...more });

    function boiling(s) {
      if (!g) { byId("bmoment").innerHTML = amounts(s); return; }
      let body = "";
      if (s.stages && s.rise) {
        const T = s.stageC, f = s.stages.map((x) => x[d.wanted]), end = s.rise.at(-1);
        f.forEach((x, k) => {
          const y = s.rise[k];
          body += line(X(100 * x), Y(T[k]), X(100 * y), Y(T[k]), { "stroke-width": 1.4 });
          if (k + 1 < f.length) body += line(X(100 * y), Y(T[k]), X(100 * f[k + 1]), Y(T[k + 1]), { "stroke-width": 1, "stroke-dasharray": "2 3" });
          body += el("circle", { cx: X(100 * x), cy: Y(T[k]), r: k ? 3.5 : 7, fill: k ? "#fff" : INK, stroke: INK });
        });
        body += over(Math.min(right - 34, Math.max(left + 34, X(100 * f[0]))), Math.min(bottom - 8, Y(T[0]) + 24), `pot ${pct(f[0])}`, { "text-anchor": "middle" });
        body += diamond(X(100 * end), Y(T.at(-1))) + over(Math.min(right - 40, Math.max(left + 40, X(100 * end))), Math.max(top + 8, Y(T.at(-1)) - 14), `vapour ${pct(end)}`, { "text-anchor": "middle" });
      }
      byId("bmoment").innerHTML = body;
    }
    // another point of the curve that is pointed at: its pot and the vapour over it, in grey
    function ghost(s) {
      if (!g) return;
      const host = byId("bghost");
      if (!s || !s.rise) { host.innerHTML = ""; return; }
      const x = X(100 * s.stages[0][d.wanted]), y = Y(s.stageC[0]), vapour = X(100 * s.rise[0]);
      host.innerHTML = line(x, y, vapour, y, { stroke: GREY }) + el("circle", { cx: x, cy: y, r: 6, fill: GREY }) + diamond(vapour, y, { stroke: GREY }) + over(left + 8, bottom - 10, `pointed at, ${s.t.toFixed(0)} min: pot ${pct(s.stages[0][d.wanted])}, vapour over it ${pct(s.rise[0])}`, { fill: GREY, "font-size": 12 });
    }
    function amounts(s) {
      let body = text(6, 22, "pot", { "font-weight": 700 }) + text(236, 22, "what drips", { "font-weight": 700 });
      d.names.forEach((name, k) => {
        const y = 48 + 58 * k;
        [[6, s.pot], [236, s.drops > 0.5 ? s.drip : null]].forEach(([x, f]) => { if (f) body += text(x, y, `${name}: ${pct(f[k])} mol %`) + el("rect", { x, y: y + 7, width: (210 * f[k]).toFixed(1), height: 20, fill: `url(#p${k})`, stroke: INK, "stroke-width": 0.6 }); });
      });
      return body;
    }
    // plate by plate: up to the vapour in balance, across to the liquid that it becomes above
    function steps(s, shown) {
      if (!g) return "";
      let body = "", said = now().held ? "Nothing boils yet." : "What stands on the plates is not known.";
      if (s.rise) {
        const f = s.stages.map((x) => x[d.wanted]), rise = s.rise, n = Math.min(shown, f.length);
        const ys = f.slice(1).map((_, k) => V(100 * rise[k])), xs = f.slice(1).map((x) => X(100 * x));
        if (xs.length > 1) body += path(xs, ys, { stroke: PENS[2], "stroke-width": 1.4, "stroke-dasharray": "7 3" });
        for (let k = 0; k < n; k++) {
          const x = X(100 * f[k]), y = V(100 * rise[k]);
          body += line(x, V(k ? 100 * rise[k - 1] : 0), x, y, { "stroke-width": 1.8 });
          if (k + 1 < n) body += line(x, y, X(100 * f[k + 1]), y, { "stroke-width": 1.8 });
          body += el("circle", { cx: x, cy: y, r: 4, fill: "#fff", stroke: INK });
          if (f.length <= 7) body += over(Math.max(left + 50, x - 8), Math.max(top + 10, y - 8), k ? `plate ${k}` : "pot", { "text-anchor": "end", "font-size": 13 });
        }
        said = n > 1 ? `Pot and ${n - 1} plate${n > 2 ? "s" : ""}: from ${pct(f[0])} in the pot to ${pct(rise[n - 1])} mol % in the vapour.` : `Pot alone: ${pct(f[0])} in the liquid, ${pct(rise[0])} mol % in the vapour.`;
      }
      byId("smoment").innerHTML = body;
      return said;
    }
    function label(words, said) {
      named("boiling", (g ? "Boiling diagram with the pot and the vapour at this moment: " : "What pot and drops are made of: ") + words);
      if (g) named("steps", "Plate by plate: " + said);
    }
    return { build, boiling, ghost, steps, label };
  })();
