"use strict";
// Sections of all pages are in `forerunWords` (words.js): [address, page, heading, text].
(() => {
  const root = document.documentElement.dataset.root;
  const box = document.getElementById("words");
  const found = document.getElementById("found");
  const article = document.querySelector("article");
  const MOST = 30;
  const AROUND = 90; // letters shown on each side of the first hit
  const plain = (text) => text.normalize("NFD").replace(/\p{M}/gu, "").toLowerCase();
  const sections = forerunWords.map(([address, page, heading, text]) => ({
    address, page, heading, text, low: plain(text), head: plain(`${page} ${heading}`),
  }));

  const score = (section, words) => {
    let sum = 0;
    for (const word of words) {
      const times = section.low.split(word).length - 1;
      const above = section.head.includes(word);
      if (!times && !above) return 0;
      sum += Math.min(times, 5) + (above ? 10 : 0);
    }
    return sum;
  };

  const around = (section, word) => {
    const at = Math.max(0, section.low.indexOf(word));
    const from = Math.max(0, at - AROUND);
    const line = document.createElement("p");
    const hit = document.createElement("mark");
    const there = section.low.length === section.text.length && section.low.includes(word);
    const length = there ? word.length : 0;
    hit.textContent = section.text.slice(at, at + length);
    line.append(
      from ? "…" : "", section.text.slice(from, at), hit,
      section.text.slice(at + length, at + length + AROUND), "…",
    );
    return line;
  };

  const show = () => {
    const words = plain(box.value).split(/\s+/).filter(Boolean);
    found.hidden = !words.length;
    article.hidden = !!words.length;
    if (!words.length) return;
    const hits = sections
      .map((section) => [score(section, words), section])
      .filter(([points]) => points)
      .sort((a, b) => b[0] - a[0]);
    const told = document.createElement("p");
    told.textContent = hits.length
      ? `${hits.length} ${hits.length === 1 ? "place" : "places"}` +
        (hits.length > MOST ? `, the best ${MOST} shown` : "")
      : "Nothing found. Fewer or other words?";
    const list = document.createElement("ol");
    for (const [, section] of hits.slice(0, MOST)) {
      const item = document.createElement("li");
      const link = document.createElement("a");
      link.href = root + section.address;
      link.textContent =
        section.heading === section.page ? section.page : `${section.page}: ${section.heading}`;
      item.append(link, around(section, words[0]));
      list.append(item);
    }
    found.replaceChildren(told, list);
  };

  const leave = () => { box.value = ""; show(); };
  box.addEventListener("input", show);
  found.addEventListener("click", (event) => { if (event.target.closest("a")) leave(); });
  document.getElementById("ask").addEventListener("submit", (event) => {
    event.preventDefault();
    found.querySelector("a")?.click();
  });
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && box.value) leave();
    if (event.key === "/" && document.activeElement !== box) {
      event.preventDefault();
      box.focus();
    }
  });
})();
