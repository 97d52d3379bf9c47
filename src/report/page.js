"use strict";
// Reading off and moving in charts over time; without it the page says the same. Names go in as text, never as markup.
(() => {
  const SVG = "http://www.w3.org/2000/svg", WHOLE = 10000, HOUR = 3600000, NARROWEST = 150;
  const make = (name, attributes, text) => {
    const node = document.createElementNS(SVG, name);
    for (const key in attributes) node.setAttribute(key, attributes[key]);
    if (text !== undefined) node.textContent = text;
    return node;
  };
  // Points of a line, from its own path: whole units, each from the one before.
  const pointsOf = path => {
    const points = [];
    let x = 0, y = 0;
    for (const [, command, a, b] of path.getAttribute("d").matchAll(/([Ml])(-?\d+)[ ]?(-?\d+)/g)) {
      [x, y] = command === "M" ? [+a, +b] : [x + +a, y + +b];
      points.push([x, y]);
    }
    return points;
  };
  const clamp = (x, low, high) => Math.min(Math.max(x, low), high);

  function chart(figure) {
    const svg = figure.querySelector("svg.whole"), stage = figure.querySelector(".stage");
    const from = +svg.dataset.from, to = +svg.dataset.to, unit = svg.dataset.unit, zone = svg.dataset.zone;
    const clock = new Intl.DateTimeFormat("en-GB", { timeZone: zone, weekday: "short", day: "numeric", month: "short", hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
    const hour = new Intl.DateTimeFormat("en-GB", { timeZone: zone, hour: "numeric", hourCycle: "h23" });
    const day = new Intl.DateTimeFormat("en-GB", { timeZone: zone, day: "numeric", month: "short" });
    const box = svg.querySelector("svg.plot").viewBox.baseVal;
    const first = [box.x, box.x + box.width], strip = figure.querySelector("svg.strip .window");
    let view = first.slice(), at = null;
    const lines = [...svg.querySelectorAll("path.line[data-name]")].map(path => {
      const panel = path.closest("g.panel").dataset;
      return { name: path.dataset.name, points: pointsOf(path), low: +panel.low, high: +panel.high, height: +panel.height * 10 };
    });
    const moved = [...svg.querySelectorAll("[data-a]")];
    const ticks = svg.querySelector("g.ticks"), drawn = [...ticks.childNodes];
    const cursor = make("line", { class: "cursor", y1: 0, y2: svg.getAttribute("height") });
    cursor.style.display = "none";
    svg.append(cursor);
    const read = document.createElement("output");
    read.className = "read";
    read.setAttribute("aria-live", "polite");
    stage.after(read);
    const place = x => (x - view[0]) / (view[1] - view[0]);
    const percent = x => 100 * clamp(place(x), 0, 1) + "%";

    function relay() {
      for (const plot of svg.querySelectorAll("svg.plot")) plot.setAttribute("viewBox", [view[0], 0, view[1] - view[0], plot.viewBox.baseVal.height].join(" "));
      for (const node of moved) {
        const a = +node.dataset.a, b = node.dataset.b === undefined ? a : +node.dataset.b;
        node.classList.toggle("out", b < view[0] || a > view[1]);
        if (node.localName === "g") bracket(node, a, b);
        else if (node.localName === "rect") { node.setAttribute("x", percent(a)); node.setAttribute("width", 100 * (clamp(place(b), 0, 1) - clamp(place(a), 0, 1)) + "%"); }
        else if (node.localName === "line") { node.setAttribute("x1", percent(a)); node.setAttribute("x2", percent(b)); }
        else node.setAttribute("x", percent(a));
      }
      if (strip) { strip.setAttribute("x", view[0] / 100 + "%"); strip.setAttribute("width", (view[1] - view[0]) / 100 + "%"); }
      const still = view[0] === first[0] && view[1] === first[1];
      ticks.replaceChildren(...(still ? drawn : timeTicks()));
      show();
    }
    function bracket(node, a, b) {
      const [left, right] = [clamp(place(a), 0, 1), clamp(place(b), 0, 1)], middle = (left + right) / 2;
      const [over, start, end] = node.querySelectorAll("line"), text = node.querySelector("text");
      const set = (line, x1, x2) => { line.setAttribute("x1", 100 * x1 + "%"); line.setAttribute("x2", 100 * x2 + "%"); };
      set(over, left, right); set(start, left, left); set(end, right, right);
      const anchor = middle < .25 ? "start" : middle > .75 ? "end" : "middle";
      text.setAttribute("text-anchor", anchor);
      text.setAttribute("x", 100 * (anchor === "start" ? left : anchor === "end" ? right : middle) + "%");
    }
    // Local hours that are round, at most seven of them.
    function timeTicks() {
      const ms = x => from + (to - from) * x / WHOLE, hours = (ms(view[1]) - ms(view[0])) / HOUR;
      const step = [1, 2, 3, 6, 12, 24, 48, 96, 168, 336, 672, 1344].find(s => hours / s <= 6.5) || 2688;
      const nodes = [];
      let count = 0, days = 0;
      for (let t = Math.ceil(ms(view[0]) / HOUR) * HOUR; t < ms(view[1]); t += HOUR) {
        const h = +hour.format(t);
        if (h === 0) days += 1;
        if (step < 24 ? h % step : h !== 0 || (days - 1) % (step / 24)) continue;
        const x = 100 * place((t - from) / (to - from) * WHOLE) + "%", second = count++ % 2 ? " second" : "";
        nodes.push(make("line", { class: "grid" + second, x1: x, x2: x, y1: 0, y2: 4 }));
        nodes.push(make("text", { class: "tick" + second, x, y: 16, "text-anchor": "middle" }, h === 0 ? day.format(t) : String(h).padStart(2, "0") + ":00"));
      }
      return nodes;
    }
    function show() {
      if (at === null || at < view[0] || at > view[1]) { cursor.style.display = "none"; read.textContent = ""; return; }
      cursor.style.display = "";
      cursor.setAttribute("x1", percent(at)); cursor.setAttribute("x2", percent(at));
      const near = WHOLE * HOUR * 3 / (to - from);
      const told = lines.map(line => {
        let best = null;
        for (const point of line.points) if (best === null || Math.abs(point[0] - at) < Math.abs(best[0] - at)) best = point;
        if (best === null || Math.abs(best[0] - at) > near) return line.name + " no data";
        return line.name + " " + (line.high - (line.high - line.low) * best[1] / line.height).toFixed(1).replace("-", "−");
      });
      read.textContent = clock.format(from + (to - from) * at / WHOLE) + " · " + told.join(" · ") + " " + unit;
    }
    function look(a, b) {
      const width = clamp(b - a, NARROWEST, WHOLE), left = clamp(a, 0, WHOLE - width);
      view = [left, left + width];
      relay();
    }
    function zoom(by) {
      const width = view[1] - view[0], middle = at === null || at < view[0] || at > view[1] ? (view[0] + view[1]) / 2 : at;
      look(middle - (middle - view[0]) * by, middle - (middle - view[0]) * by + width * by);
    }
    const inView = event => { const area = svg.getBoundingClientRect(); return view[0] + clamp((event.clientX - area.left) / area.width, 0, 1) * (view[1] - view[0]); };
    svg.addEventListener("pointermove", event => { at = inView(event); show(); });
    svg.addEventListener("pointerdown", event => { at = inView(event); show(); });
    svg.addEventListener("pointerleave", event => { if (event.pointerType === "mouse") { at = null; show(); } });
    svg.addEventListener("dblclick", event => { at = inView(event); zoom(.5); });
    const whole = strip && strip.closest("svg.strip");
    if (whole) {
      const move = event => { const area = whole.getBoundingClientRect(), width = view[1] - view[0]; look((event.clientX - area.left) / area.width * WHOLE - width / 2, (event.clientX - area.left) / area.width * WHOLE + width / 2); };
      whole.addEventListener("pointerdown", event => { whole.setPointerCapture(event.pointerId); move(event); });
      whole.addEventListener("pointermove", event => { if (event.buttons) move(event); });
    }
    stage.tabIndex = 0;
    stage.setAttribute("role", "group");
    stage.setAttribute("aria-label", svg.querySelector("title").textContent + ": left and right read values off, plus and minus zoom, Home and End go to the edges, Escape goes back");
    const keys = {
      ArrowLeft: () => step(-1), ArrowRight: () => step(1), Home: () => edge(0), End: () => edge(1),
      "+": () => zoom(.5), "=": () => zoom(.5), "-": () => zoom(2), Escape: () => { at = null; look(first[0], first[1]); },
    };
    function step(by) {
      const width = view[1] - view[0];
      at = clamp((at === null ? (view[0] + view[1]) / 2 : at) + by * width / 100, 0, WHOLE);
      if (at < view[0] || at > view[1]) look(at - width / 2, at + width / 2); else show();
    }
    function edge(end) { at = view[end]; show(); }
    stage.addEventListener("keydown", event => {
      const act = keys[event.key];
      if (!act || event.ctrlKey || event.metaKey || event.altKey) return;
      event.preventDefault();
      act();
    });
  }
  for (const svg of document.querySelectorAll("svg.whole[data-from]")) chart(svg.closest("figure"));
  // A link into a folded part opens it.
  const unfold = () => { const target = location.hash && document.getElementById(decodeURIComponent(location.hash.slice(1))); for (let node = target; node; node = node.parentElement) if (node.localName === "details") node.open = true; };
  addEventListener("hashchange", unfold);
  unfold();
})();
