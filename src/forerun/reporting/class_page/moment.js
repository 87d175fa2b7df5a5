  // one moment in all views ------------------------------------------------------------------------
  const ALL = 99, SLOW = 29, PATIENCE = 3; // frames/s below which, for s, it goes on by steps: 30, less what a timer errs
  const EACH = 90, PLATE = 700; // ms between drawings of the diagrams, between plates that are built
  let way = 0, clock = 0, axis = "v", running = false, shown = ALL, building = 0, stepwise = false;
  const now = () => d.ways[way];
  const pace = () => +byId("pace").value; // minutes of the run in a second

  function paint(all) {
    const w = now(), s = stateAt(w, clock);
    stillView.paint(s); sideView.move(s); stripView.move(s);
    if (!all) return;
    diagrams.boiling(s);
    const said = diagrams.steps(s, shown), words = momentWords(w, s), when = byId("when");
    byId("stepsaid").textContent = said;
    byId("says").textContent = words;
    when.value = s.k; when.setAttribute("aria-valuetext", words);
    diagrams.label(words, said); stillView.label(words); stripView.label(words);
  }
  function draw() {
    byId("when").max = now().t.length - 1;
    sideView.draw(way, axis); stripView.draw(now()); stillView.build(now());
    paint(true);
  }
  const goTo = (minutes) => { clock = Math.max(0, Math.min(now().t.at(-1), minutes)); paint(true); };
  const goBy = (n) => { const t = now().t, k = Math.max(0, Math.min(t.length - 1, stateAt(now(), clock).k + n)); goTo(t[k]); };

  // running -------------------------------------------------------------------------------------
  function run(on) {
    running = on;
    if (on && clock >= now().t.at(-1)) clock = 0;
    byId("play").setAttribute("aria-pressed", on); byId("play").textContent = on ? "Hold" : "Run";
    byId("says").setAttribute("aria-live", on ? "off" : "polite");
    byId("stepsaid").setAttribute("aria-live", on ? "off" : "polite");
    meter.from = performance.now(); meter.frames = 0;
    paint(true);
  }
  const meter = { from: 0, frames: 0, slow: 0 };
  function measure(time) {
    meter.frames++;
    const seconds = (time - meter.from) / 1000;
    if (seconds < 1) return;
    const rate = meter.frames / seconds;
    document.documentElement.dataset.frames = rate.toFixed(0);
    meter.slow = rate < SLOW && !document.hidden ? meter.slow + 1 : 0;
    meter.from = time; meter.frames = 0;
    if (meter.slow >= PATIENCE && !stepwise) { stepwise = true; byId("slowly").hidden = false; }
  }
  let before = 0, painted = 0;
  function frame(time) {
    const seconds = Math.min(0.1, (time - before) / 1000); before = time;
    if (running) {
      measure(time);
      clock = Math.min(now().t.at(-1), clock + seconds * pace());
      const due = time - painted > (stepwise ? 500 : EACH);
      if (due) painted = time;
      if (due || !stepwise) paint(due);
      if (clock >= now().t.at(-1)) run(false);
    }
    if (!stepwise) stillView.fall(seconds);
    requestAnimationFrame(frame);
  }

  // hands ---------------------------------------------------------------------------------------
  byId("ways").innerHTML = d.ways.map((w, k) => `<label><input type="radio" name="way" value="${k}"${k ? "" : " checked"}> ${esc(w.label)}</label>`).join("");
  byId("ways").addEventListener("change", (e) => {
    const at = stateAt(now(), clock).v;
    way = +e.target.value; shown = ALL;
    clock = now().t[nearest(now().v, at)];
    draw();
  });
  document.querySelectorAll("[name=axis]").forEach((i) => i.addEventListener("change", () => { axis = i.value; sideView.draw(way, axis); paint(false); }));
  byId("when").addEventListener("input", (e) => goTo(now().t[+e.target.value]));
  byId("back").addEventListener("click", () => goBy(-1));
  byId("on").addEventListener("click", () => goBy(1));
  byId("play").addEventListener("click", () => run(!running));
  byId("print").addEventListener("click", () => print());
  const showPlates = (n) => { clearInterval(building); shown = Math.max(1, Math.min(n, now().plates + 1)); paint(true); };
  byId("less").addEventListener("click", () => showPlates(Math.min(shown, now().plates + 1) - 1));
  byId("more").addEventListener("click", () => showPlates(shown + 1));
  byId("build").addEventListener("click", () => {
    showPlates(1);
    building = setInterval(() => { shown++; paint(true); if (shown > now().plates) clearInterval(building); }, PLATE);
  });

  // going along a curve: press and drag; pointing alone shows that point's pot and vapour in grey
  function along(host, minutesAt) {
    let held = false;
    const box = byId(host);
    box.addEventListener("pointerdown", (e) => { held = true; box.setPointerCapture(e.pointerId); ghost(null); goTo(minutesAt(e)); });
    box.addEventListener("pointermove", (e) => { if (held) goTo(minutesAt(e)); else if (e.pointerType === "mouse") ghost(minutesAt(e)); });
    ["pointerup", "pointercancel"].forEach((kind) => box.addEventListener(kind, () => { held = false; }));
    box.addEventListener("pointerleave", () => ghost(null));
  }
  function ghost(minutes) { stripView.ghost(minutes); diagrams.ghost(minutes === null ? null : stateAt(now(), minutes)); }
  along("side", (e) => { const at = sideView.valueAt(e.clientX), w = now(); return axis === "t" ? Math.max(0, at) : w.t[nearest(w.v, at)]; });
  along("strip", (e) => stripView.minutesAt(e.clientX));

  const KEYS = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1, PageDown: -10, PageUp: 10 };
  byId("inside").addEventListener("keydown", (e) => {
    const slide = e.target === byId("when"), views = e.target === byId("views");
    if (e.altKey || e.ctrlKey || e.metaKey || !(slide || views)) return;
    if (e.key === " " && !calm) run(!running);
    else if (views && e.key in KEYS) goBy(KEYS[e.key]);
    else if (views && e.key === "Home") goTo(0);
    else if (views && e.key === "End") goTo(now().t.at(-1));
    else return;
    e.preventDefault();
  });

  if (calm) {
    document.querySelectorAll(".moves").forEach((one) => { one.hidden = true; });
    byId("still-says").hidden = false;
  }
  let opened = [];
  addEventListener("beforeprint", () => { run(false); opened = [...document.querySelectorAll("details:not([open]):not(.long)")]; opened.forEach((fold) => { fold.open = true; }); });
  addEventListener("afterprint", () => opened.forEach((fold) => { fold.open = false; }));
  let wide = document.documentElement.clientWidth;
  addEventListener("resize", () => { if (document.documentElement.clientWidth !== wide) { wide = document.documentElement.clientWidth; draw(); } });

  clock = now().t[Math.max(0, now().v.findIndex((v) => v > 0.1 * d.charge))];
  diagrams.build();
  draw();
  requestAnimationFrame(frame);
  document.documentElement.dataset.ready = "true";
