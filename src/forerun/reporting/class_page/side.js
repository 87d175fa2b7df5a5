  // side by side, and the curve of one way to go along ------------------------------------------
  const heads = d.ways.flatMap((w) => w.head.filter((_, k) => w.v[k] > 0)).concat(d.stairs.map((s) => s.c));
  const low = Math.min(...heads) - 5, high = Math.max(...heads) + 3;
  const most = { v: Math.max(...d.ways.map((w) => w.v.at(-1)), d.stairs.at(-1).end), t: Math.max(...d.ways.map((w) => w.t.at(-1))) };
  const AXIS = { v: "mL collected", t: "minutes since heating began" };

  // labels in a column, each as near as may be to where its line ends
  function spread(labels, top, bottom, apart) {
    labels.sort((a, b) => a.y - b.y);
    labels.forEach((one, k) => { one.y = Math.max(one.y, k ? labels[k - 1].y + apart : top); });
    for (let k = labels.length - 1, limit = bottom; k >= 0; k--, limit -= apart) labels[k].y = Math.min(labels[k].y, limit);
    return labels;
  }
  // cursor and dot that follow the moment without drawing the rest again
  const cursor = (name, top, bottom) => el("line", { id: name, y1: top, y2: bottom, stroke: INK, "stroke-dasharray": "2 3" }) + el("circle", { id: name + "dot", r: 6, fill: "#fff", stroke: INK, "stroke-width": 2 });
  function moveCursor(name, x, y, seen) {
    const rule = byId(name), dot = byId(name + "dot");
    rule.setAttribute("x1", x); rule.setAttribute("x2", x);
    dot.setAttribute("cx", x); dot.setAttribute("cy", y);
    dot.setAttribute("visibility", seen ? "visible" : "hidden");
  }
  const sideView = (() => {
    const left = 50, top = 20, bottom = 420, height = 470, labels = 230;
    let across = null, up = null, axis = "v";
    function draw(chosen, kind) {
      axis = kind;
      const width = Math.max(700, byId("side").clientWidth), right = width - labels;
      up = scale(low, high, bottom, top); across = scale(0, most[axis], left, right);
      let body = "";
      ticks(low, high, 7).forEach((v) => { body += line(left, up(v), right, up(v), { stroke: PALE }) + text(left - 8, up(v) + 5, v, { "text-anchor": "end", fill: GREY }); });
      ticks(0, most[axis], 8).forEach((v) => { body += line(across(v), bottom, across(v), bottom + 5) + text(across(v), bottom + 22, v, { "text-anchor": "middle", fill: GREY }); });
      body += line(left, bottom, right, bottom) + text(right, bottom + 42, AXIS[axis], { "text-anchor": "end", fill: GREY }) + text(2, 14, "head, °C", { fill: GREY, "font-size": 13 });
      const ends = d.ways.map((w, k) => ({ k, x: across(w[axis].at(-1)), at: up(w.head.at(-1)) }));
      if (axis === "v") {
        const xs = [], ys = [];
        d.stairs.forEach((s) => { xs.push(across(s.start), across(s.end)); ys.push(up(s.c), up(s.c)); });
        body += path(xs, ys, { stroke: GREY, "stroke-width": 1.5, "stroke-dasharray": "1 4" });
        ends.push({ k: -1, x: xs.at(-1), at: ys.at(-1) });
      }
      d.ways.forEach((w, k) => {
        const keep = w.v.map((v, j) => v > 0 && w.head[j] >= low);
        body += path(w[axis].map((v, j) => keep[j] ? across(v) : null), w.head.map((v, j) => keep[j] ? up(v) : null), { stroke: PENS[k], "stroke-dasharray": DASH[k], "stroke-width": k === chosen ? 3.5 : 1.8 });
      });
      spread(ends.map((e) => ({ ...e, y: e.at })), top, bottom, 20).forEach((e) => {
        const w = d.ways[e.k], look = { stroke: w ? PENS[e.k] : GREY, "stroke-width": e.k === chosen ? 3.5 : 1.8, "stroke-dasharray": w ? DASH[e.k] : "1 4" };
        body += line(e.x + 4, e.at, right + 30, e.y, { stroke: PALE }) + line(right + 34, e.y, right + 60, e.y, look);
        body += text(right + 66, e.y + 5, w ? w.label : "as many expect", { "font-weight": e.k === chosen ? 700 : 400, "font-size": 13 });
      });
      byId("side").innerHTML = svg(width, height, d.finding, body + cursor("sideat", top, bottom));
    }
    const move = (s) => moveCursor("sideat", across(s[axis]), up(s.head), s.head >= low);
    // the value on the axis at a place of the screen
    function valueAt(clientX) {
      const box = byId("side").firstElementChild.getBoundingClientRect(), width = byId("side").firstElementChild.viewBox.baseVal.width;
      return ((clientX - box.left) * width / box.width - left) / (width - labels - left) * most[axis];
    }
    return { draw, move, valueAt };
  })();

  // the chosen way alone, against time: what is dragged along
  const stripView = (() => {
    const left = 44, top = 18, bottom = 104;
    let across = null, up = null, drawn = null, width = 1;
    function draw(w) {
      drawn = w; width = Math.max(320, byId("strip").clientWidth);
      const end = w.t.at(-1), right = width - 16;
      const all = w.head.concat(w.potC), lo = Math.min(...all), hi = Math.max(...all) + 2;
      across = scale(0, end, left, right); up = scale(lo, hi, bottom, top);
      let body = "";
      ticks(lo, hi, 3).forEach((v) => { body += line(left, up(v), right, up(v), { stroke: PALE }) + text(left - 8, up(v) + 5, v, { "text-anchor": "end", fill: GREY, "font-size": 13 }); });
      ticks(0, end, Math.min(12, width / 90)).forEach((v) => { body += text(across(v), bottom + 18, v + (v ? "" : " min"), { "text-anchor": "middle", fill: GREY, "font-size": 13 }); });
      body += line(left, bottom, right, bottom) + path(w.t.map(across), w.potC.map(up), { stroke: GREY, "stroke-width": 1.3, "stroke-dasharray": "5 3" }) + path(w.t.map(across), w.head.map(up), { stroke: INK });
      const half = Math.floor(w.t.length / 2), x = across(w.t[half]);
      body += over(x, up(w.head[half]) + 18, "head", { "font-size": 13 }) + over(x, up(w.potC[half]) - 8, "pot", { "font-size": 13, fill: GREY, "font-weight": 400 });
      body += el("line", { id: "ghost", y1: top, y2: bottom, stroke: GREY, visibility: "hidden" });
      byId("strip").innerHTML = svg(width, 128, "", body + cursor("stripat", top, bottom));
    }
    const move = (s) => moveCursor("stripat", across(s.t), up(s.head), true);
    const label = (words) => named("strip", "Head and pot against time, " + words);
    function minutesAt(clientX) {
      const box = byId("strip").firstElementChild.getBoundingClientRect();
      const t = ((clientX - box.left) * width / box.width - left) / (width - 16 - left) * drawn.t.at(-1);
      return Math.max(0, Math.min(drawn.t.at(-1), t));
    }
    function ghost(minutes) {
      const rule = byId("ghost");
      rule.setAttribute("visibility", minutes === null ? "hidden" : "visible");
      if (minutes !== null) { rule.setAttribute("x1", across(minutes)); rule.setAttribute("x2", across(minutes)); }
    }
    return { draw, move, label, minutesAt, ghost };
  })();
