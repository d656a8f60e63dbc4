// The pass one step at a time. Steps and sentences are the printed page's own; the block of data tells the rest.
// Nothing is stored or fetched, and only a tap on its own button starts a clock.
"use strict";
(() => {
  const data = JSON.parse(document.getElementById("steps").textContent);
  const { words, stages, spots } = data, root = document.documentElement, live = document.querySelector(".live");

  const make = (tag, text = "", more = {}) => Object.assign(document.createElement(tag), { textContent: text }, more);
  const button = (text, onclick, className = "") => make("button", text, { type: "button", onclick, className });
  const copies = (parts) => [...parts].map((part) => part.cloneNode(true));
  const printed = (which) => copies(document.querySelectorAll(`.leaf ${which}`));

  // A printed step begins at its number and ends before the next; what stands above a section's first number is its own.
  const steps = [];
  for (const section of document.querySelectorAll(".leaf section")) {
    let step = null;
    for (const part of section.querySelector(".tag") ? section.children : []) {
      const tag = part.querySelector(".tag");
      if (!step || (tag && step.number)) steps.push((step = { parts: [] }));
      if (tag) step.number = tag.textContent;
      step.parts.push(part);
    }
  }
  const numbered = (number) => steps.findIndex((step) => step.number === number);

  // --- the way: a screen knows the next one; the trail of screens behind tells what was done
  let trail = [], now = { kind: "step", at: 0 };
  const after = (stage) => (stage.lines.length ? { kind: "wait", stage } : { kind: "step", at: numbered("4") });
  const place = (stage, k) => (k < stage.places.length ? { kind: "spot", stage, k } : after(stage));
  const following = {
    step({ at }) {
      if (at === numbered("3") && stages.length) return place(stages[0], 0);
      return at + 1 < steps.length ? { kind: "step", at: at + 1 } : { kind: "end" };
    },
    spot: ({ stage, k }) => (data.pause && k + 1 < stage.places.length ? { kind: "pause", stage, k } : place(stage, k + 1)),
    pause: ({ stage, k }) => place(stage, k + 1),
    wait: ({ stage }) => ({ kind: "blades", stage }),
    told({ stage, line }) {
      if (line.do < 0) return { kind: "blades", stage };
      return line.do ? place(stages.find((one) => one.number === line.do), 0) : { kind: "step", at: numbered("4") };
    },
  };
  const go = (next, done) => (trail.push({ ...now, ...done }), (now = next), draw());
  const on = (done) => go(following[now.kind](now), done);
  const back = () => ((now = trail.pop()), draw());
  // As at the bench, a stage that is read oddly twice is the last one.
  const tell = (stage, line) => {
    const odd = (one) => one.kind === "blades" && one.stage === stage && one.line.do < 0;
    const last = line.do < 0 && trail.some(odd);
    go({ kind: "told", stage, line: last ? { do: 0, then: data.stop } : line }, { line, gap: line.gap });
  };

  // --- clocks, each by its name: when it was started and stopped
  const clocks = {};
  let tick = () => {};
  const gone = (name) => (clocks[name] ? ((clocks[name].to || Date.now()) - clocks[name].from) / 1000 : 0);
  const set = (name, state) => ((clocks[name] = state), draw());
  const minutes = (left) => {
    const all = left < 0 ? Math.floor(-left) : Math.ceil(left), two = (n) => String(n).padStart(2, "0");
    const [h, m] = [Math.floor(all / 3600), Math.floor(all / 60) % 60];
    return `${left < 0 ? "+" : ""}${h ? `${h}:${two(m)}` : m}:${two(all % 60)}`;
  };
  const clock = (name, seconds, face) => {
    const state = clocks[name], shown = make("p", "", { className: "timer", role: "timer" });
    tick = () => {
      shown.textContent = face(gone(name), seconds);
      shown.classList.toggle("due", Boolean(state) && gone(name) >= seconds);
    };
    tick();
    return [shown, state];
  };
  const wait = (name, seconds) => {
    if (!seconds) return [];
    const [shown, state] = clock(name, seconds, (past) => minutes(seconds - past));
    const start = () => set(name, { from: Date.now() });
    return [shown, state ? button(words.clear, () => set(name)) : button(words.start, start, "big")];
  };
  const flame = ({ stage, k }) => `flame ${stage.places[k]}`;
  const burns = () => now.kind === "spot" && clocks[flame(now)] && !clocks[flame(now)].to;
  const dwell = (name, seconds) => {
    const [shown, state] = clock(name, seconds, (past) => `${past.toFixed(1)} s`);
    const off = () => set(name, gone(name) < data.shortest ? undefined : { ...state, to: Date.now() }); // shorter: tapped by mistake
    if (!state) return [shown, button(words.on, () => set(name, { from: Date.now() }), "big")];
    return [shown, state.to ? button(words.clear, () => set(name)) : button(words.off, off, "big")];
  };

  // --- screens: what stands on each, and its buttons at the foot
  const screens = {
    step({ at }) {
      const timed = data.timed[steps[at].number];
      const first = at ? [] : [...printed("> .direction"), ...printed("> .verdict"), ...printed("> .verdict ~ :not(.work)"), make("p", words.lost)];
      return [...first, ...copies(steps[at].parts), ...(timed ? wait(...timed) : [])];
    },
    spot(screen) {
      const order = screen.stage.places[screen.k], sketch = printed(".side-heat > svg");
      sketch[0].querySelectorAll(".spot, .reserve")[order - 1].classList.add("this");
      return [make("h2", spots[order].words), ...sketch, ...printed(".side-heat > .temperatures"), ...dwell(flame(screen), spots[order].dwell)];
    },
    pause: (screen) => [...printed(".pause"), ...wait(`after ${flame(screen)}`, data.pause)],
    wait: ({ stage }) => [...printed(".side-ladder > h3 + p"), ...wait(`stage ${stage.number}`, data.wait)],
    blades: ({ stage }) => [make("h2", stage.words), ...stage.lines.map((line) => button(line.when, () => tell(stage, line), "big"))],
    told({ line }) {
      const read = trail[trail.length - 1], label = make("label", words.read);
      label.append(make("input", "", { value: read.gap, oninput: (typed) => (read.gap = typed.target.value) }));
      return [make("h2", line.then, { className: "told" }), label, ...(line.do > 0 ? copies(steps[numbered("2")].parts) : [])];
    },
    end() {
      const text = report(), href = `data:application/toml;charset=utf-8,${encodeURIComponent(text)}`;
      const field = make("textarea", text, { readOnly: true, rows: 14, onfocus: () => field.select() }), label = make("label", words.take);
      label.append(field);
      return [make("h2", words.done), label, make("a", words.save, { href, download: data.file, className: "big" }), make("p", words.lost)];
    },
  };
  const feet = {
    spot: () => [button(words.out, () => on({ heated: false })), button(words.heated, () => on({ heated: true }))],
    blades: () => [],
    end: () => [],
  };

  // --- what was done, as `log --done` takes it; behind # what to type before
  const report = () => {
    const lit = trail.filter((one) => one.kind === "spot"), heated = lit.filter((one) => one.heated);
    const tables = heated.map((one) => {
      const spot = spots[one.stage.places[one.k]], held = gone(flame(one));
      return `${spot.table}"${held ? held.toFixed(1) : spot.dwell} s"\n`;
    });
    if (lit.length && !heated.length) tables.push(`${data.unheated}\n`);
    const lines = [data.top, ...gaps(lit.length === heated.length), data.log];
    return `${lines.map((line) => `# ${line}\n`).join("")}\n${tables.join("\n")}`;
  };
  // The program counts stages as they come: where a place was left out or a gap not read, the gaps stand as words alone.
  const gaps = (whole) => {
    const read = trail.filter((one) => one.kind === "blades"), lines = [];
    if (!whole || read.some((one) => !one.gap)) return read.map((one) => `${one.stage.name}: ${words.read} ${plain(one.gap)}`);
    let last = 0;
    for (const { stage, gap } of read) {
      for (let n = last + 1; n < stage.number; n++) lines.push(`${data.stage} --skip`);
      lines.push(`${data.stage}${stage.number === last ? " --again" : ""} --gap "${plain(gap)}"`);
      last = stage.number;
    }
    return lines;
  };
  const plain = (gap) => gap.replace(/[^\w .,-]/g, "");

  // --- drawing
  const ticked = new Set();
  const tickable = (tick) => {
    const line = tick.parentElement, key = line.textContent, label = make("label");
    const box = make("input", "", { type: "checkbox", checked: ticked.has(key), onchange: () => ticked[box.checked ? "add" : "delete"](key) });
    tick.replaceWith(box);
    label.append(...line.childNodes);
    line.append(label);
  };
  const draw = () => {
    tick = () => {};
    const open = root.classList.contains("alive"), turned = button(open ? words.close : words.open, turn);
    live.replaceChildren(turned);
    if (!open) return;
    const main = make("div", "", { tabIndex: -1 }), foot = make("div", "", { className: "foot" });
    main.append(...screens[now.kind](now));
    main.querySelectorAll(".tick").forEach(tickable);
    foot.append(button(words.back, back), ...(feet[now.kind] || (() => [button(words.next, () => on())]))());
    for (const one of foot.children) one.disabled = burns() || (one === foot.firstChild && !trail.length);
    live.replaceChildren(...printed("> .top"), main, turned, foot);
    if (trail.length) main.focus();
    scrollTo(0, 0);
  };
  const turn = () => (root.classList.toggle("alive"), draw());
  live.hidden = false;
  root.classList.toggle("alive", matchMedia("(max-width: 480px)").matches);
  try {
    draw();
  } catch (fault) {
    root.classList.remove("alive"); // in a browser too old for this the printed page stands
    throw fault;
  }
  setInterval(() => tick(), 100);
})();
